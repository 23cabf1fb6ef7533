/* Lanes, and the few functions that a loop over them needs; no library of mathematics. */

#ifndef ARITHMETIC_H
#define ARITHMETIC_H

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#ifndef LANES
#define LANES 8 /* so that a block's numbers stay in the first cache: 32 are a fifth slower */
#endif
typedef double Lanes[LANES];

/* Steps of which the tables are read together: a line of memory holds so many numbers of one place. */
#define READ_STEPS 8

/* A team of enclosures may fill so many blocks, so that few lanes stand empty. */
#define TEAM_BLOCKS 3

#if defined(__GNUC__) && !defined(__clang__)
#define EACH _Pragma("GCC ivdep") for (int c = 0; c < LANES; c++)
#elif defined(__clang__)
#define EACH _Pragma("clang loop vectorize(assume_safety) interleave(disable)") for (int c = 0; c < LANES; c++)
#else
#define EACH for (int c = 0; c < LANES; c++)
#endif

#if defined(__GNUC__)
#define INLINE static inline __attribute__((always_inline))
#define ROOT(x) __builtin_sqrt(x)
#define MAGNITUDE(x) __builtin_fabs(x)
#define FETCH(at) __builtin_prefetch(at)
#else
#include <math.h>
#define INLINE static inline
#define ROOT(x) sqrt(x)
#define MAGNITUDE(x) fabs(x)
#define FETCH(at) ((void)(at))
#endif

/* One machine code for each kind of processor, chosen when the library is loaded, where the compiler can. */
#if defined(__x86_64__) && defined(__linux__) && !defined(PLAIN) && defined(__has_attribute)
#if __has_attribute(target_clones)
#define FOR_EACH_PROCESSOR __attribute__((target_clones("arch=x86-64-v4", "arch=x86-64-v3", "default")))
#endif
#endif
#ifndef FOR_EACH_PROCESSOR
#define FOR_EACH_PROCESSOR
#endif
#define PHASE FOR_EACH_PROCESSOR static

#if defined(_WIN32)
#define EXPORT __declspec(dllexport)
#else
#define EXPORT __attribute__((visibility("default")))
#endif
/* -- constants: balance.py, air.py, doses.py, integrate.py ------------------------------------------------------ */

#define LATENT_J_KG 2.41e6
#define LATENT_HEAT_30C_J_KG 2.43e6
#define GAS_CONSTANT_VAPOUR_J_KGK 461.524
#define VAPOUR_GAS_CONSTANT 461.5
#define KELVIN_AT_ZERO_C 273.15
#define MAGNUS_PA 610.94
#define MAGNUS_SLOPE 17.625
#define MAGNUS_C 243.04
#define MEAN_DROP 0.6
#define ROW_ROUNDS 4
#define SMALL 1e-12
#define REST_STATED_AT_C 30.0
#define NO_DEATH_DOSE 0.03
#define LEAST_CHANGE_PER_S 1e-9
#define WARM_UP 4
#define HOUR_S 3600.0
#define ML_PER_KG 1000.0
#define MOST_HEADROOM_K 20.0
#define COLD_REACH_K 10.0
#define LN_10 2.302585092994046

/* -- arithmetic ------------------------------------------------------------------------------------------------- */

/* The larger and the smaller; where x is NaN so is the answer. */
INLINE double at_least(double x, double least) { return x < least ? least : x; }
INLINE double at_most(double x, double most) { return x > most ? most : x; }

INLINE double number_of(uint64_t bits) {
  double x;
  memcpy(&x, &bits, sizeof x);
  return x;
}

INLINE uint64_t bits_of(double x) {
  uint64_t bits;
  memcpy(&bits, &x, sizeof bits);
  return bits;
}

/* Adding it leaves the nearest whole number in the last bits of a double. */
#define ROUNDER 6755399441055744.0

/* e to the x, to 1e-14 of itself: 2^n by its exponent's bits, times the series of what is left, below ln 2 / 2. */
INLINE double exponential(double x) {
  double held = at_most(at_least(x, -700.0), 700.0);
  double rounded = held * 1.4426950408889634 + ROUNDER;
  double n = rounded - ROUNDER;
  double r = (held - n * 0.6931471803691238) - n * 1.9082149292705877e-10;
  double series = 1.0 / 39916800.0;
  series = series * r + 1.0 / 3628800.0;
  series = series * r + 1.0 / 362880.0;
  series = series * r + 1.0 / 40320.0;
  series = series * r + 1.0 / 5040.0;
  series = series * r + 1.0 / 720.0;
  series = series * r + 1.0 / 120.0;
  series = series * r + 1.0 / 24.0;
  series = series * r + 1.0 / 6.0;
  series = series * r + 0.5;
  series = series * r + 1.0;
  series = series * r + 1.0;
  return series * number_of((bits_of(rounded) + 1023) << 52);
}

/* Natural logarithm of a positive number, to 1e-15: its exponent, and the series of artanh for the rest. */
INLINE double logarithm(double x) {
  uint64_t bits = bits_of(x);
  double exponent = number_of((bits >> 52) | 0x4330000000000000u) - 4503599627370496.0 - 1023.0;
  double part = number_of((bits & 0x000fffffffffffffu) | 0x3ff0000000000000u);
  double large = part > 1.4142135623730951 ? 1.0 : 0.0;
  part = part - 0.5 * large * part;
  double s = (part - 1.0) / (part + 1.0), z = s * s;
  double series = 1.0 / 19.0;
  series = series * z + 1.0 / 17.0;
  series = series * z + 1.0 / 15.0;
  series = series * z + 1.0 / 13.0;
  series = series * z + 1.0 / 11.0;
  series = series * z + 1.0 / 9.0;
  series = series * z + 1.0 / 7.0;
  series = series * z + 1.0 / 5.0;
  series = series * z + 1.0 / 3.0;
  series = series * z + 1.0;
  return 2.0 * s * series + (exponent + large) * 0.6931471805599453 + 0.0 * x;
}

/* The largest whole number not above x, for numbers below 2^51. */
INLINE double whole(double x) {
  double near = (x + ROUNDER) - ROUNDER;
  return near - (near > x ? 1.0 : 0.0);
}

/* bees.ramp, by its slope rather than its span */
INLINE double ramp(double value, double start, double slope) {
  return at_most(at_least((value - start) * slope, 0.0), 1.0);
}

/* bees.tenfold */
INLINE double tenfold(double value, double one_at, double tenth) {
  return exponential((value - one_at) * (LN_10 / tenth));
}

/* balance.saturation_kg_m3, both fractions over one divisor; the logarithm is that of 610.94 / 461.5 */
INLINE double saturation_kg_m3(double temp_c) {
  double magnus = temp_c + MAGNUS_C, kelvin = temp_c + KELVIN_AT_ZERO_C, over = 1.0 / (magnus * kelvin);
  return exponential(0.2805167007341172 + MAGNUS_SLOPE - MAGNUS_SLOPE * MAGNUS_C * kelvin * over) * magnus * over;
}

/* air.vapour_density_kg_m3 of air.saturation_pressure_fast_pa */
INLINE double saturated_fast_kg_m3(double temp_c) {
  return MAGNUS_PA * exponential(MAGNUS_SLOPE * temp_c / (temp_c + MAGNUS_C)) /
         (GAS_CONSTANT_VAPOUR_J_KGK * (temp_c + KELVIN_AT_ZERO_C));
}

/* balance.humidity_share: the vapour around with what is evaporated into the air that leaves */
INLINE double humidity_share(double around_kg_m3, double evaporation_w, double flow_m3_s, double saturated_kg_m3) {
  return (around_kg_m3 * flow_m3_s + evaporation_w * (1.0 / LATENT_J_KG)) / (flow_m3_s * saturated_kg_m3);
}

#endif
