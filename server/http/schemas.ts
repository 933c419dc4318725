import { z } from 'zod';
import { alternates, gates } from '../domain/contract.ts';
import { answerKinds } from '../domain/note.ts';
import { givenRoles } from '../domain/person.ts';
import { levels, requestKinds } from '../domain/request-kind.ts';

const id = z.string().regex(/^[A-Za-z0-9_-]{1,64}$/);
const words = z.string().max(20_000);
const shortWords = z.string().max(300);
const seconds = z.number().min(0).max(86_400);
const minorUnits = z.number().int().min(0).max(1e12);

/** As hexadecimal digits. */
export const sha256Schema = z.string().regex(/^[0-9a-f]{64}$/);
export const levelSchema = z.enum(levels);
export const kindSchema = z.enum(requestKinds);
export const gateSchema = z.enum(gates);
export const answerSchema = z.enum(answerKinds);
export const rangeSchema = z.object({ startSeconds: seconds, endSeconds: seconds.nullable() }).nullable();
export const sectionsSchema = z
  .array(z.object({ id, name: z.string().max(60), startSeconds: seconds, endSeconds: seconds }))
  .max(200);
/** The fee that the payer saw and says yes to. */
export const agreedFeeSchema = z.object({ agreedFeeMinorUnits: minorUnits });
export const reasonSchema = z.object({ reason: words });

/** The terms of a contract, as a set-up page sends them. */
export const termsSchema = z.object({
  parties: z.object({ engineer: shortWords, client: shortWords }),
  includedMixRounds: z.number().int().min(0).max(1000),
  includedMasterRounds: z.number().int().min(0).max(1000),
  pointsCap: z.number().int().min(1).max(1000).nullable(),
  roundFee: z.discriminatedUnion('basis', [
    z.object({ basis: z.literal('flat'), amountMinorUnits: minorUnits }),
    z.object({
      basis: z.literal('hourly'),
      rateMinorUnits: minorUnits,
      minimumHours: z.number().min(0).max(1000),
    }),
  ]),
  productionRateMinorUnits: minorUnits,
  newMixSurchargeMinorUnits: minorUnits,
  afterApprovalMinorUnits: minorUnits,
  currency: z.string().regex(/^[A-Z]{3}$/),
  noteDays: z.number().int().min(0).max(3650),
  spokesperson: id,
  payer: id,
  signers: z.object({
    production: z.array(id).max(50),
    mix: z.array(id).max(50),
    master: z.array(id).max(50),
  }),
  scopeSheet: z.record(z.enum(requestKinds), z.object({ level: levelSchema, grey: z.boolean() })),
  releaseCondition: z.enum(['balance paid', 'sign-off']),
  retentionDays: z.number().int().min(0).max(36_500),
  delivery: z.object({
    sampleRateHz: z.number().int().min(8000).max(384_000),
    bitDepth: z.union([z.literal(16), z.literal(24), z.literal(32)]),
    truePeakCeilingDbtp: z.number().min(-60).max(6),
    loudnessWishLufs: z.number().min(-70).max(0).nullable(),
    alternates: z.array(z.enum(alternates)),
  }),
});

export const personSchema = z.object({
  personId: id,
  name: z.string().min(1).max(120),
  roles: z.array(z.enum(givenRoles)).max(6),
});

export { id as idSchema, shortWords as shortWordsSchema, words as wordsSchema };
