// One number per lane: a lane is one variant of the engine, or one manifold pressure. The same
// source is compiled once per instruction set (run_*.cc), each time in a namespace of its own,
// FUELWRIGHT_KERNEL; nothing here may use a function template of the standard library, or the
// linker could hand code for one machine to another. FUELWRIGHT_LANES is 1 (double, the oracle), 4,
// 8 or 16 (float).
#pragma once

#include <cmath>

#if FUELWRIGHT_LANES > 1
#include <immintrin.h>
#endif

namespace fuelwright::physics::FUELWRIGHT_KERNEL {

#define FW_INLINE inline __attribute__((always_inline))

inline constexpr int kLanes = FUELWRIGHT_LANES;

#if FUELWRIGHT_LANES == 1

using Real = double;
using V = double;
using M = bool;

FW_INLINE V splat(double x) { return x; }
FW_INLINE V min(V a, V b) { return a < b ? a : b; }
FW_INLINE V max(V a, V b) { return a > b ? a : b; }
FW_INLINE V abs(V a) { return a < 0 ? -a : a; }
FW_INLINE V sqrt(V a) { return __builtin_sqrt(a); }
FW_INLINE V reciprocal(V a) { return 1 / a; }
FW_INLINE V rough_root(V a) { return __builtin_sqrt(a); }
FW_INLINE V rough_reciprocal(V a) { return 1 / a; }
FW_INLINE M lt(V a, V b) { return a < b; }
FW_INLINE V sel(M m, V a, V b) { return m ? a : b; }
FW_INLINE bool any(M m) { return m; }
FW_INLINE M both(M a, M b) { return a && b; }
FW_INLINE M inverse(M a) { return !a; }
FW_INLINE V exp2(V x) { return ::exp2(x); }
FW_INLINE V log2(V x) { return ::log2(x); }
FW_INLINE double lane(const V& v, int) { return v; }
FW_INLINE void set_lane(V& v, int, double x) { v = x; }
FW_INLINE double largest(V v) { return v; }

#else

using Real = float;
typedef float V __attribute__((vector_size(4 * FUELWRIGHT_LANES)));
typedef int I __attribute__((vector_size(4 * FUELWRIGHT_LANES)));

FW_INLINE V splat(double x) { return V{} + static_cast<float>(x); }
FW_INLINE V abs(V a) { return (V)((I)a & 0x7fffffff); }
FW_INLINE double lane(const V& v, int i) { return v[i]; }
FW_INLINE void set_lane(V& v, int i, double x) { v[i] = static_cast<float>(x); }
FW_INLINE double largest(V v) {
  float m = v[0];
  for (int i = 1; i < kLanes; ++i) m = v[i] > m ? v[i] : m;
  return m;
}

#if FUELWRIGHT_LANES == 16
using M = __mmask16;
FW_INLINE V min(V a, V b) { return (V)_mm512_min_ps((__m512)a, (__m512)b); }
FW_INLINE V max(V a, V b) { return (V)_mm512_max_ps((__m512)a, (__m512)b); }
FW_INLINE V sqrt(V a) { return (V)_mm512_sqrt_ps((__m512)a); }
FW_INLINE V first_guess(V a) { return (V)_mm512_rcp14_ps((__m512)a); }
FW_INLINE V rough_root(V a) {
  const V y = (V)_mm512_rsqrt14_ps((__m512)a);
  return a * y * (1.5f - 0.5f * a * y * y);
}
FW_INLINE M lt(V a, V b) { return _mm512_cmp_ps_mask((__m512)a, (__m512)b, _CMP_LT_OQ); }
FW_INLINE V sel(M m, V a, V b) { return (V)_mm512_mask_blend_ps(m, (__m512)b, (__m512)a); }
FW_INLINE bool any(M m) { return m != 0; }
FW_INLINE M both(M a, M b) { return static_cast<M>(a & b); }
FW_INLINE M inverse(M a) { return static_cast<M>(~a); }
FW_INLINE I nearest(V x) { return (I)_mm512_cvtps_epi32((__m512)x); }
FW_INLINE V to_real(I x) { return (V)_mm512_cvtepi32_ps((__m512i)x); }
#elif FUELWRIGHT_LANES == 8
using M = V;
FW_INLINE V min(V a, V b) { return (V)_mm256_min_ps((__m256)a, (__m256)b); }
FW_INLINE V max(V a, V b) { return (V)_mm256_max_ps((__m256)a, (__m256)b); }
FW_INLINE V sqrt(V a) { return (V)_mm256_sqrt_ps((__m256)a); }
FW_INLINE V first_guess(V a) { return (V)_mm256_rcp_ps((__m256)a); }
FW_INLINE V rough_root(V a) {
  const V y = (V)_mm256_rsqrt_ps((__m256)a);
  return a * y * (1.5f - 0.5f * a * y * y);
}
FW_INLINE M lt(V a, V b) { return (V)_mm256_cmp_ps((__m256)a, (__m256)b, _CMP_LT_OQ); }
FW_INLINE V sel(M m, V a, V b) { return (V)_mm256_blendv_ps((__m256)b, (__m256)a, (__m256)m); }
FW_INLINE bool any(M m) { return _mm256_movemask_ps((__m256)m) != 0; }
FW_INLINE M both(M a, M b) { return (V)((I)a & (I)b); }
FW_INLINE M inverse(M a) { return (V) ~(I)a; }
FW_INLINE I nearest(V x) { return (I)_mm256_cvtps_epi32((__m256)x); }
FW_INLINE V to_real(I x) { return (V)_mm256_cvtepi32_ps((__m256i)x); }
#else
using M = V;
FW_INLINE V min(V a, V b) { return (V)_mm_min_ps((__m128)a, (__m128)b); }
FW_INLINE V max(V a, V b) { return (V)_mm_max_ps((__m128)a, (__m128)b); }
FW_INLINE V sqrt(V a) { return (V)_mm_sqrt_ps((__m128)a); }
FW_INLINE V first_guess(V a) { return (V)_mm_rcp_ps((__m128)a); }
FW_INLINE V rough_root(V a) {
  const V y = (V)_mm_rsqrt_ps((__m128)a);
  return a * y * (1.5f - 0.5f * a * y * y);
}
FW_INLINE M lt(V a, V b) { return (V)_mm_cmplt_ps((__m128)a, (__m128)b); }
FW_INLINE V sel(M m, V a, V b) { return (V)(((I)m & (I)a) | (~(I)m & (I)b)); }
FW_INLINE bool any(M m) { return _mm_movemask_ps((__m128)m) != 0; }
FW_INLINE M both(M a, M b) { return (V)((I)a & (I)b); }
FW_INLINE M inverse(M a) { return (V) ~(I)a; }
FW_INLINE I nearest(V x) { return (I)_mm_cvtps_epi32((__m128)x); }
FW_INLINE V to_real(I x) { return (V)_mm_cvtepi32_ps((__m128i)x); }
#endif

/// To 6e-5, the machine's guess (one Newton step where that is only good to 4e-4): enough for the
/// speed of a wave that only bounds the fan. rough_root() likewise, to 1e-6.
FW_INLINE V rough_reciprocal(V a) {
  const V r = first_guess(a);
#if FUELWRIGHT_LANES < 16
  return r * (2.0f - a * r);
#else
  return r;
#endif
}

/// 1/a to about 2e-7: the machine's guess and Newton steps, cheaper than a division.
FW_INLINE V reciprocal(V a) {
  V r = first_guess(a);
  r = r * (2.0f - a * r);
#if FUELWRIGHT_LANES < 16
  r = r * (2.0f - a * r);
#endif
  return r;
}

/// 2^x, |x| < 120, to 3e-7: integer part into the exponent, a polynomial of degree 6 for the rest
/// (Taylor).
FW_INLINE V exp2(V x) {
  const I whole = nearest(x);
  const V t = (x - to_real(whole)) * 0.69314718f;
  V y = splat(1.0 / 720);
  y = y * t + static_cast<float>(1.0 / 120);
  y = y * t + static_cast<float>(1.0 / 24);
  y = y * t + static_cast<float>(1.0 / 6);
  y = y * t + 0.5f;
  y = y * t + 1.0f;
  y = y * t + 1.0f;
  return (V)((I)y + (whole << 23));
}

/// log2 x, x > 0 and normal, to 3e-7 absolute: mantissa in 0.70..1.41, then the series of artanh.
FW_INLINE V log2(V x) {
  const I bits = (I)x - 0x3f3504f3;  // of sqrt(1/2)
  const I exponent = bits >> 23;
  const V m = (V)((bits & 0x007fffff) + 0x3f3504f3);
  const V z = (m - 1.0f) / (m + 1.0f);
  const V z2 = z * z;
  V s = splat(1.0 / 9);
  s = s * z2 + static_cast<float>(1.0 / 7);
  s = s * z2 + 0.2f;
  s = s * z2 + static_cast<float>(1.0 / 3);
  s = s * z2 + 1.0f;
  return to_real(exponent) + z * s * 2.88539008f;
}

#endif

FW_INLINE V clamp(V x, V low, V high) { return min(max(x, low), high); }
FW_INLINE V square(V x) { return x * x; }

}  // namespace fuelwright::physics::FUELWRIGHT_KERNEL
