// Whether a lane has settled.
#pragma once

#include "physics/breathing/kernel/machine.h"

namespace fuelwright::physics::FUELWRIGHT_KERNEL {

// A mean manifold pressure this near the wanted one will do: the filling is referred to the
// pressure that was.
inline constexpr double kNear = 0.006;
inline constexpr double kSmothered = 0.6;  // residual share from which a cycle does not come back
inline constexpr int kHistory = 8;         // cycles over which a node that alternates is averaged

// Fresh air and residual of all cylinders, cycle against cycle. A node is settled when two cycles
// running differ little, or, where cycles alternate, when the mean of four differs little from the
// mean of the four before.
inline bool all_settled(Machine& m, kernel::Result* out, int cycle) {
  const Network& net = *m.net;
  V fresh = splat(0), residual = splat(0), filled = splat(0);
  for (int i = 0; i < net.cylinders; ++i) {
    fresh = fresh + m.cylinder[i].fresh_in;
    residual = residual + m.cylinder[i].c_share * static_cast<Real>(1.0 / net.cylinders);
    filled = filled + m.cylinder[i].c_mass;
  }
  bool all = true;
  for (int l = 0; l < net.lanes; ++l) {
    const double f = lane(fresh, l), g = lane(m.last_fresh, l);
    const double y = lane(residual, l), z = lane(m.last_residual, l), mass = lane(filled, l);
    const double t = lane(m.target, l), p = lane(m.mean_map, l);
    const double dp = p > 0 ? ::fabs(p / t - 1) : 0;
    const bool still =
        ::fabs(f - g) < net.settle * mass && ::fabs(y - z) < net.settle && dp < kNear;
    m.history[cycle % kHistory][l] = f;
    m.settled_for[l] = still ? m.settled_for[l] + 1 : 0;
    bool steady = false;
    if (cycle >= kHistory && dp < kNear) {
      double recent = 0, before = 0;
      for (int k = 0; k < kHistory; ++k)
        (k < kHistory / 2 ? recent : before) +=
            m.history[(cycle - k) % kHistory][l] / (kHistory / 2);
      steady = ::fabs(recent - before) < 2 * net.settle * mass;
    }
    m.smothered_for[l] = y > kSmothered ? m.smothered_for[l] + 1 : 0;
    out->by_mean[l] = m.settled_for[l] < 2 && steady;
    out->settled[l] = m.settled_for[l] >= 2 || steady;
    if (!out->settled[l]) {
      const bool lost = !(f < 1e9 && f > -1e9 && y < 1e9);  // not a number any more
      all = all && (lost || m.smothered_for[l] >= 3);  // nobody waits for a lane that does not burn
      out->cycles[l] = cycle;
    }
  }
  m.last_fresh = fresh;
  m.last_residual = residual;
  return all;
}

}  // namespace fuelwright::physics::FUELWRIGHT_KERNEL
