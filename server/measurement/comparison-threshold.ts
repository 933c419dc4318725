/**
 * Every figure that a verdict or a word depends on. The first group follows published just-noticeable differences, the
 * second is *common practice* in reading a null test, the third is our own choice, checked against mixes whose parts
 * are known.
 */
export const comparisonThreshold = {
  /** Under this, one tenth of a loudness unit, a meter's own tolerance hides a difference. @source EBU Tech 3341, ±0.1 LU */
  meterToleranceLu: 0.1,
  /** A change of loudness that some listeners notice. @source level JND 0.5 to 1.0 dB, sound engineering handbooks */
  noticedLu: 0.5,
  /** A change of loudness that is clear to most. @source *common practice*: "1 dB is just heard" */
  clearLu: 1,
  /** A change of loudness that casual listeners remark on by themselves. *Common practice*. */
  largeLu: 3,
  /** A third-octave's change, after matching, that belongs to what is named. @source level JND, as above, 0.5 dB */
  noticedBandDb: 0.5,
  /** The least true-peak difference that is said. @source EBU R 128, quality control allowance 0.2 */
  truePeakDb: 0.2,
  /** A section with less sound in common has no short-term value, and is not judged. @source EBU Tech 3341, 3 s */
  shortestSectionSeconds: 3,

  /** What is left of two renders of one mix is rounding or dither under this. *Common practice*. */
  ditherDbfs: -84,
  /** Only rounding of floating point is left under this. *Common practice*. */
  roundingDbfs: -120,
  /** A tenth of a second whose residual is this far under the mix did not change. *Common practice*: −60 is the edge of audible candidates. */
  unchangedResidualDb: -65,
  /** The least residual level that is ever told; beyond it, arithmetic in 32-bit samples says nothing. */
  lowestResidualDb: -150,
  /** When the quietest tenth of the song nulls no better than this, something other than a change limits the null. *Common practice*. */
  limitedNullDb: -60,

  /** A tenth of a second this far under the section's own level is silence there. */
  silenceUnderSectionDb: -50,
  /** How long a tail of the section before, or a pickup of the one after, may sound into a section that did not change. */
  tailSeconds: 1.5,
  pickupSeconds: 0.3,
  /** Tenths of a second that must differ in a section. */
  leastChangedHops: 3,
  /** A band takes part in a change where its residual is within this of the strongest band's. */
  bandTakesPartDb: -14,
  /** A band has a say in what kind of change it is where its residual is within this of the strongest. */
  bandTellsDb: -30,
  /** The bands that are named are within this of the strongest. */
  bandIsNamedDb: -8,
  /** Something moved in the image where so much of the residual is one side up and the other down. */
  opposingShare: 0.5,
  /**
   * A limiter leaves no more of the residual unexplained than this, once each fiftieth of a second has its own gain: of two
   * mixes, where a fader on a part that dominates leaves 0.05 and more; and of stems and their print, where none was moved.
   */
  unexplainedShare: 0.045,
  unexplainedOfStemsShare: 0.15,
  /** Where the null is limited: how steadily a band must move, in standard errors, and by how much, before it counts. */
  steadyStandardErrors: 6,
  steadyBandDb: 0.15,
  /** What a band of a lossy file must have moved by where coding noise has come between. */
  codedBandDb: 2,
  /** A part is called new or gone when it went up or down by more than this. */
  newPartDb: 12,
  /** A tenth of a second is the least stretch of head or tail that is reported as an edit. */
  shortestEditSeconds: 0.1,
} as const;
