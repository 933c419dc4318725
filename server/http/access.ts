import type { Context, MiddlewareHandler } from 'hono';
import { getCookie, setCookie } from 'hono/cookie';
import type { Person } from '../domain/person.ts';
import type { RecordState, Song } from '../domain/record.ts';
import type { PersonalLink } from '../storage/link-store.ts';
import { problem } from './problem.ts';
import type { Services } from './services.ts';

export interface Access {
  Variables: {
    /** The session's secret, if the browser has one. */
    session: string | null;
    /** The links that the session holds. */
    links: PersonalLink[];
    /** Set below `/records/:record`. */
    record: RecordState;
    person: Person;
    /** Set below `/songs/:song`. */
    song: Song;
  };
}

const sessionDays = 180;

const isSecure = (services: Services) => services.publicUrl().startsWith('https:');
/** `__Host-` binds the cookie to this host over https; plain http on a local network can't carry that prefix. */
const cookieName = (services: Services) => (isSecure(services) ? '__Host-countoff' : 'countoff');

export function setSession(
  context: Context,
  services: Services,
  session: string,
  maxAge = sessionDays * 86_400,
): void {
  setCookie(context, cookieName(services), session, {
    path: '/',
    httpOnly: true,
    sameSite: 'Lax',
    secure: isSecure(services),
    maxAge,
  });
}

/** Reads the session and the links that it holds; lets everybody through. */
export function readSession(services: Services): MiddlewareHandler<Access> {
  return async (context, next) => {
    const session = getCookie(context, cookieName(services)) ?? null;
    context.set('session', session);
    context.set('links', session ? await services.links.linksOf(session) : []);
    await next();
  };
}

const changing = new Set(['POST', 'PUT', 'PATCH', 'DELETE']);

/** Refuses state changes that another site's page asks for. */
export const sameOrigin: MiddlewareHandler = async (context, next) => {
  if (changing.has(context.req.method)) {
    const site = context.req.header('sec-fetch-site');
    const origin = context.req.header('origin');
    const host = context.req.header('host');
    const foreign = site
      ? site !== 'same-origin' && site !== 'none'
      : origin !== undefined &&
        host !== undefined &&
        URL.parse?.(origin)?.host !== host &&
        !origin.endsWith(`//${host}`);
    if (foreign)
      return problem(context, 'foreign_origin', 'This came from another site and was not carried out.');
  }
  await next();
};

/** Whether the session is the server owner's. */
export const isOwner = (context: Context<Access>) =>
  context.get('links').some((link) => link.recordId === null);

export function requireOwner(): MiddlewareHandler<Access> {
  return async (context, next) => {
    if (!context.get('links').length) return signInFirst(context);
    if (!isOwner(context))
      return problem(context, 'not_entitled_here', 'This is for the owner of the server.');
    await next();
  };
}

export const signInFirst = (context: Context) =>
  problem(
    context,
    'not_signed_in',
    'Open your personal link to come in. If it is lost, ask the engineer for a new one.',
  );

/**
 * Lets those through who are on the record, and puts the record and the person before the route. Others are told the
 * same as where there is no such record.
 */
export function requirePerson(services: Services): MiddlewareHandler<Access> {
  return async (context, next) => {
    const links = context.get('links');
    if (!links.length) return signInFirst(context);
    const recordId = context.req.param('record') ?? '';
    const link =
      links.find((each) => each.recordId === recordId) ?? links.find((each) => each.recordId === null);
    const record = link ? await services.ledger.state(recordId) : null;
    const person = link && record ? record.people[link.personId] : undefined;
    if (!record || !person)
      return problem(context, 'not_found', 'There is no such record, or your link does not open it.');
    context.set('record', record);
    context.set('person', person);
    await next();
  };
}

export const requireSong: MiddlewareHandler<Access> = async (context, next) => {
  const song = context.get('record').songs[context.req.param('song') ?? ''];
  if (!song) return problem(context, 'song_unknown', 'There is no such song on this record.');
  context.set('song', song);
  await next();
};
