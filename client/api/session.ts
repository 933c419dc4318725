import { Refusal, read, send } from './call.ts';
import type { GivenRole, Role } from './types.ts';

/** Who holds this browser's session, and the records that they are on. */
export interface Me {
  owner: boolean;
  records: {
    id: string;
    title: string;
    act: string;
    personName: string;
    roles: Role[];
    demo: boolean;
    songs: { id: string; title: string }[];
  }[];
  server: { name: string; publicUrl: string; ffmpeg: boolean };
}

/** `null` without a session. */
export async function readMe(): Promise<Me | null> {
  try {
    return await read<Me>('/api/me');
  } catch (error) {
    if (error instanceof Refusal && error.status === 401) return null;
    throw error;
  }
}

/** Trades a personal link's secret for a session. */
export const enter = (secret: string) => send<null>('POST', '/api/enter', { secret });
export const leave = () => send<null>('POST', '/api/leave');

export const openRecord = (body: {
  recordId?: string;
  title: string;
  act: string;
  ownerName: string;
  ownerRoles: GivenRole[];
}) => send<{ recordId: string }>('POST', '/api/records', body);
