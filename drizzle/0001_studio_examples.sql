CREATE TABLE `studio_examples` (
	`record_id` text NOT NULL,
	`request_id` text NOT NULL,
	`song_id` text NOT NULL,
	`text` text NOT NULL,
	`kind` text NOT NULL,
	`level` text NOT NULL,
	`by_scope_sheet` integer NOT NULL,
	`reason` text NOT NULL,
	`by` text NOT NULL,
	`at` text NOT NULL,
	`removed_at` text,
	PRIMARY KEY(`record_id`, `request_id`)
);
