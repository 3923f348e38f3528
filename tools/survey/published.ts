/** Published figures that a run over the survey can be held against; transcribed in tests/outside/abstract-anchors.json. */

/** Men, women. */
export type Pair = readonly [male: number, female: number];

export const PERNA_2016 = {
  source:
    'Perna FM, et al. J Strength Cond Res 2016;30(3):867-874 (abstract): survey of 2011-2012, ages 30 to 39, both hands together',
  sumLb: [216.4, 136.5] as Pair,
};

export const DODDS_2014 = {
  source: 'Dodds RM, et al. PLoS ONE 2014;9(12):e113637: twelve British studies',
  /** Share at age 80 at least 2.5 SD below the peak mean: below 27 kg in men and 16 kg in women. */
  weakAt80: [0.23, 0.27] as Pair,
  peakMeanKg: [51.9, 31.4] as Pair,
  peakSdKg: [9.9, 6.1] as Pair,
};

export const CANADA_2010 = {
  source: 'Statistics Canada. Musculoskeletal fitness in Canada, 2007 to 2009: both hands together',
  sumKg20to39: [97, 56] as Pair,
  sumKg6to79: [84, 51] as Pair,
};

export const KOREA_2017 = {
  source: 'Yoo JI, et al. J Korean Med Sci 2017;32(5):868-872: ages 19 to 80, highest of the dominant hand',
  meanKg: [40.2, 24.2] as Pair,
};

export const KOREA_2019 = {
  source: 'Ann Geriatr Med Res 2019;23(4):183-189: Korea 2014-2017, ages 35 to 39',
  meanKg35to39: [46.0, 27.2] as Pair,
};

export const BRAZIL_2019 = {
  source: 'Amaral CA, et al. PLoS ONE 2019;14(1):e0211452: Rio Branco, ages 30 to 39, highest of three',
  meanKg30to39: [46.9, 29.4] as Pair,
};

export const GERMANY_2023 = {
  source:
    'Huemer MT, et al. Age Ageing 2023;52(1):afac324: peak mean less 2.5 SD, ages 38 (men) and 39 (women)',
  lowKg: [29, 18] as Pair,
};

/** Published summaries of the same survey whose figures were not found, or of others without figures. */
export const NOT_COMPARED = [
  'Wong SL. Health Rep 2016;27(10) (Canada, ages 6 to 79): regression coefficients not found',
  'Spruit MA, et al. J Am Med Dir Assoc 2013;14(10) (United Kingdom): no table value found',
  'Peterson MD, Krishnan C. Am J Prev Med 2015;49(6):935-938 (this survey): no value found',
  'Adv Geriatr Med Res 2020;2:e200005 (this survey): no value found',
  'Bohannon RW, et al. Am J Occup Ther 2019;73(2) (this survey): table values not found',
  'Yoo 2017, Korea 2019: the SD and the lowest normal value rest on a reference group that the abstracts do not define',
];
