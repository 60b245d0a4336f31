#ifndef PEDAL_SETTINGS_H
#define PEDAL_SETTINGS_H

/* recording: synthetic: track b sits 150 mV too high at rest */
/* started: 2026-11-25T09:00:00+00:00 */
/* board: simulated 12-bit board */
/* file: synthetic_off_at_rest.csv */
/* SHA-256: 08a93d4ea4cf1e6eab41beafcbd043040a8d63f6cb89ca6e12a8bab59d1bb4af */
/* made by: Stillpedal VERSION */
/* REPAIR FIRST: the tracks do not agree. */
/* WARNING: Repair before driving: track b rests 159 mV further towards pressed than track a, 4.8 % of its travel. A controller that reads both on one scale takes that for a pressed pedal: turn or trim track b, or give each track its own start of travel; `stillpedal findings synthetic_off_at_rest.csv --more` has the remedies. */
/* Prove every value with the driven wheels off the ground, the others chocked, nobody before or behind the car and somebody at the battery disconnect, before the first drive. Local codes and licensed practice come first. */
/* Volts at the sensor, supply 5 V; counts of n bits have 2^n at the supply. */

#define PEDAL_SUPPLY_MV 5000L

/* a, rest: the median of 10 returns to rest, known to 2.4 mV either way (95 %) */
#define PEDAL_A_REST_V 0.750
#define PEDAL_A_REST_MV 750L
#define PEDAL_A_REST_COUNTS10 154L
#define PEDAL_A_REST_COUNTS12 615L

/* a, start_of_travel: rest and 57.6 mV that may lift it, of which what the car adds 30.0 mV (assumed), scatter of returns 15.9 mV (measured), electrical noise 8.3 mV (measured); with these readings and assumptions, the chance that any of 100 later key-ons reads more is at most 5 % with normal, Student 5, gamma 2 or exponential scatter, while no unseen catch or creep comes; 1.65 % of travel is lost */
#define PEDAL_A_START_OF_TRAVEL_V 0.808
#define PEDAL_A_START_OF_TRAVEL_MV 808L
#define PEDAL_A_START_OF_TRAVEL_COUNTS10 167L
#define PEDAL_A_START_OF_TRAVEL_COUNTS12 662L

/* a, release: 5.9 mV before start of travel, so that noise does not switch power on and off; every rest level lies below it, noise left out, so power ends */
#define PEDAL_A_RELEASE_V 0.803
#define PEDAL_A_RELEASE_MV 803L
#define PEDAL_A_RELEASE_COUNTS10 165L
#define PEDAL_A_RELEASE_COUNTS12 658L

/* a, full_travel: 95 % of presses reach it with 95 % confidence if the pedal may stick: 9 full presses scatter by 2.6 mV, and noise, converter and supply may take 4.7 mV */
#define PEDAL_A_FULL_TRAVEL_V 4.229
#define PEDAL_A_FULL_TRAVEL_MV 4229L
#define PEDAL_A_FULL_TRAVEL_COUNTS10 866L
#define PEDAL_A_FULL_TRAVEL_COUNTS12 3464L

/* a, fault_low: half way between 0.685 V, the furthest a sound pedal reads, and the 0 V of a broken wire or a short: 343 mV from both */
#define PEDAL_A_FAULT_LOW_V 0.343
#define PEDAL_A_FAULT_LOW_MV 343L
#define PEDAL_A_FAULT_LOW_COUNTS10 71L
#define PEDAL_A_FAULT_LOW_COUNTS12 281L

/* a, fault_high: half way between 4.310 V, the furthest a sound pedal reads, and the 5 V of a broken wire or a short: 345 mV from both */
#define PEDAL_A_FAULT_HIGH_V 4.655
#define PEDAL_A_FAULT_HIGH_MV 4655L
#define PEDAL_A_FAULT_HIGH_COUNTS10 953L
#define PEDAL_A_FAULT_HIGH_COUNTS12 3813L

/* b, rest: the median of 10 returns to rest, known to 2.1 mV either way (95 %) */
#define PEDAL_B_REST_V 0.909
#define PEDAL_B_REST_MV 909L
#define PEDAL_B_REST_COUNTS10 186L
#define PEDAL_B_REST_COUNTS12 745L

/* b, start_of_travel: rest and 54.1 mV that may lift it, of which what the car adds 30.0 mV (assumed), scatter of returns 12.8 mV (measured), electrical noise 7.9 mV (measured); with these readings and assumptions, the chance that any of 100 later key-ons reads more is at most 5 % with normal, Student 5, gamma 2 or exponential scatter, while no unseen catch or creep comes; 1.63 % of travel is lost */
#define PEDAL_B_START_OF_TRAVEL_V 0.964
#define PEDAL_B_START_OF_TRAVEL_MV 964L
#define PEDAL_B_START_OF_TRAVEL_COUNTS10 199L
#define PEDAL_B_START_OF_TRAVEL_COUNTS12 790L

/* b, release: 5.7 mV before start of travel, so that noise does not switch power on and off; every rest level lies below it, noise left out, so power ends */
#define PEDAL_B_RELEASE_V 0.958
#define PEDAL_B_RELEASE_MV 958L
#define PEDAL_B_RELEASE_COUNTS10 197L
#define PEDAL_B_RELEASE_COUNTS12 785L

/* b, full_travel: 95 % of presses reach it with 95 % confidence if the pedal may stick: 9 full presses scatter by 2.5 mV, and noise, converter and supply may take 4.6 mV */
#define PEDAL_B_FULL_TRAVEL_V 4.220
#define PEDAL_B_FULL_TRAVEL_MV 4220L
#define PEDAL_B_FULL_TRAVEL_COUNTS10 864L
#define PEDAL_B_FULL_TRAVEL_COUNTS12 3457L

/* b, fault_low: half way between 0.850 V, the furthest a sound pedal reads, and the 0 V of a broken wire or a short: 425 mV from both */
#define PEDAL_B_FAULT_LOW_V 0.426
#define PEDAL_B_FAULT_LOW_MV 426L
#define PEDAL_B_FAULT_LOW_COUNTS10 88L
#define PEDAL_B_FAULT_LOW_COUNTS12 349L

/* b, fault_high: half way between 4.297 V, the furthest a sound pedal reads, and the 5 V of a broken wire or a short: 351 mV from both */
#define PEDAL_B_FAULT_HIGH_V 4.648
#define PEDAL_B_FAULT_HIGH_MV 4648L
#define PEDAL_B_FAULT_HIGH_COUNTS10 952L
#define PEDAL_B_FAULT_HIGH_COUNTS12 3808L

/* mismatch_limit: the tracks differ by at most 0.4 % of travel as measured, 0.5 % with twice its standard uncertainty, which leaves 9.5 % to the limit asked for; the Formula SAE rules T.4.2 allow 10 % for at most 100 ms */
#define PEDAL_MISMATCH_LIMIT_PERCENT 10.000
#define PEDAL_MISMATCH_LIMIT_PERMILLE 100L

/* mismatch_time: power must stop when the mismatch lasts 100 ms, as the Formula SAE rules T.4.2 ask */
#define PEDAL_MISMATCH_TIME_S 0.100
#define PEDAL_MISMATCH_TIME_MS 100L

#endif
