CREATE TABLE `analyses` (
	`key` text PRIMARY KEY NOT NULL,
	`kind` text NOT NULL,
	`input` text NOT NULL,
	`state` text NOT NULL,
	`attempts` integer NOT NULL,
	`result` text,
	`message` text,
	`queued_at` text NOT NULL
);
--> statement-breakpoint
CREATE INDEX `analyses_state` ON `analyses` (`state`);--> statement-breakpoint
CREATE TABLE `audio_files` (
	`sha256` text PRIMARY KEY NOT NULL,
	`file_name` text NOT NULL,
	`byte_length` integer NOT NULL,
	`format` text NOT NULL,
	`listening` text NOT NULL,
	`added_at` text NOT NULL
);
--> statement-breakpoint
CREATE TABLE `executed_commands` (
	`key` text NOT NULL,
	`person_id` text NOT NULL,
	`record_id` text NOT NULL,
	`body_hash` text NOT NULL,
	`response` text NOT NULL,
	`at` text NOT NULL,
	PRIMARY KEY(`person_id`, `key`)
);
--> statement-breakpoint
CREATE TABLE `ledger_entries` (
	`record_id` text NOT NULL,
	`sequence` integer NOT NULL,
	`at` text NOT NULL,
	`by` text NOT NULL,
	`fact` text NOT NULL,
	`previous_hash` text NOT NULL,
	`hash` text NOT NULL,
	PRIMARY KEY(`record_id`, `sequence`)
);
--> statement-breakpoint
CREATE TABLE `links` (
	`id` text PRIMARY KEY NOT NULL,
	`record_id` text,
	`person_id` text NOT NULL,
	`secret_hash` text NOT NULL,
	`created_at` text NOT NULL,
	`last_used_at` text,
	`revoked_at` text
);
--> statement-breakpoint
CREATE UNIQUE INDEX `links_secret_hash` ON `links` (`secret_hash`);--> statement-breakpoint
CREATE INDEX `links_record` ON `links` (`record_id`);--> statement-breakpoint
CREATE TABLE `server_facts` (
	`name` text PRIMARY KEY NOT NULL,
	`value` text NOT NULL
);
--> statement-breakpoint
CREATE TABLE `session_links` (
	`session_hash` text NOT NULL,
	`link_id` text NOT NULL,
	PRIMARY KEY(`session_hash`, `link_id`)
);
--> statement-breakpoint
CREATE TABLE `sessions` (
	`secret_hash` text PRIMARY KEY NOT NULL,
	`created_at` text NOT NULL
);
--> statement-breakpoint
CREATE TABLE `uploads` (
	`id` text PRIMARY KEY NOT NULL,
	`record_id` text NOT NULL,
	`song_id` text NOT NULL,
	`gate` text NOT NULL,
	`person_id` text NOT NULL,
	`file_name` text NOT NULL,
	`byte_length` integer NOT NULL,
	`state` text NOT NULL,
	`inspection` text,
	`created_at` text NOT NULL
);
