import { createHash, randomBytes, randomUUID } from 'node:crypto';
import { and, eq, isNull } from 'drizzle-orm';
import type { Database } from './database.ts';
import { links, sessionLinks, sessions } from './schema.ts';

/** A personal link without its secret, which only its owner has. */
export interface PersonalLink {
  id: string;
  /** `null` for the owner of the server, whose link opens every record. */
  recordId: string | null;
  personId: string;
  createdAt: string;
  lastUsedAt: string | null;
  revokedAt: string | null;
}

const secretBytes = 32;
const secretPattern = /^[A-Za-z0-9_-]{43}$/;

const hashOf = (secret: string) => createHash('sha256').update(secret).digest('hex');
const newSecret = () => randomBytes(secretBytes).toString('base64url');

/** Personal links and the sessions that they open. Secrets have 256 bits; only their SHA-256 is stored. */
export class LinkStore {
  readonly #database: Database;
  constructor(database: Database) {
    this.#database = database;
  }

  /** Makes a link and returns its secret, the only time that it is known. */
  async issue(
    recordId: string | null,
    personId: string,
    at: string,
    id: string = randomUUID(),
  ): Promise<{ linkId: string; secret: string }> {
    const secret = newSecret();
    await this.#database.write(async (writer) => {
      await writer
        .insert(links)
        .values({ id, recordId, personId, secretHash: hashOf(secret), createdAt: at });
    });
    return { linkId: id, secret };
  }

  async ofRecord(recordId: string): Promise<PersonalLink[]> {
    const rows = await this.#database.read.select().from(links).where(eq(links.recordId, recordId));
    return rows.map(({ secretHash: _secretHash, ...link }) => link);
  }

  /** Revokes a link; the sessions that it opened lose it at once. */
  async revoke(id: string, at: string): Promise<void> {
    await this.#database.write(async (writer) => {
      await writer
        .update(links)
        .set({ revokedAt: at })
        .where(and(eq(links.id, id), isNull(links.revokedAt)));
      await writer.delete(sessionLinks).where(eq(sessionLinks.linkId, id));
    });
  }

  /**
   * Makes a new link for the server's owner, and drops those that were never used, so that links printed at earlier
   * starts don't pile up; the ones in use stay good.
   */
  async issueOwner(personId: string, at: string): Promise<{ linkId: string; secret: string }> {
    await this.#database.write(async (writer) => {
      await writer.delete(links).where(and(isNull(links.recordId), isNull(links.lastUsedAt)));
    });
    return this.issue(null, personId, at);
  }

  /**
   * Exchanges a link's secret for a session, or adds the link to the session that the browser has. `null` where the
   * secret is unknown or revoked: the two are not told apart.
   */
  async enter(
    secret: string,
    session: string | null,
    at: string,
  ): Promise<{ session: string; link: PersonalLink } | null> {
    if (!secretPattern.test(secret)) return null;
    const [row] = await this.#database.read
      .select()
      .from(links)
      .where(and(eq(links.secretHash, hashOf(secret)), isNull(links.revokedAt)));
    if (!row) return null;
    const known = session !== null && (await this.#sessionExists(session));
    const sessionSecret = known ? session : newSecret();
    const sessionHash = hashOf(sessionSecret);
    await this.#database.write(async (writer) => {
      if (!known) await writer.insert(sessions).values({ secretHash: sessionHash, createdAt: at });
      const held = await writer
        .select({ id: links.id })
        .from(sessionLinks)
        .innerJoin(links, eq(links.id, sessionLinks.linkId))
        .where(
          and(
            eq(sessionLinks.sessionHash, sessionHash),
            row.recordId === null ? isNull(links.recordId) : eq(links.recordId, row.recordId),
          ),
        );
      for (const { id } of held)
        await writer
          .delete(sessionLinks)
          .where(and(eq(sessionLinks.sessionHash, sessionHash), eq(sessionLinks.linkId, id)));
      await writer.insert(sessionLinks).values({ sessionHash, linkId: row.id });
      await writer.update(links).set({ lastUsedAt: at }).where(eq(links.id, row.id));
    });
    const { secretHash: _secretHash, ...link } = row;
    return { session: sessionSecret, link: { ...link, lastUsedAt: at } };
  }

  async #sessionExists(session: string): Promise<boolean> {
    const rows = await this.#database.read
      .select({ secretHash: sessions.secretHash })
      .from(sessions)
      .where(eq(sessions.secretHash, hashOf(session)));
    return rows.length > 0;
  }

  /** The links that a session holds and that are still good. */
  async linksOf(session: string): Promise<PersonalLink[]> {
    const rows = await this.#database.read
      .select({ link: links })
      .from(sessionLinks)
      .innerJoin(links, eq(links.id, sessionLinks.linkId))
      .where(and(eq(sessionLinks.sessionHash, hashOf(session)), isNull(links.revokedAt)));
    return rows.map(({ link: { secretHash: _secretHash, ...link } }) => link);
  }

  async leave(session: string): Promise<void> {
    const sessionHash = hashOf(session);
    await this.#database.write(async (writer) => {
      await writer.delete(sessionLinks).where(eq(sessionLinks.sessionHash, sessionHash));
      await writer.delete(sessions).where(eq(sessions.secretHash, sessionHash));
    });
  }
}
