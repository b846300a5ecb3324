// The network in memory: what every pipe, reservoir, joint and cylinder is at one moment.
#pragma once

#include "physics/breathing/kernel/cylinder.h"
#include "physics/breathing/kernel/plenum.h"

namespace fuelwright::physics::FUELWRIGHT_KERNEL {

using kernel::kCycle;
using kernel::Kind;
using kernel::kMostCylinders;
using kernel::kMostJoints;
using kernel::kMostLanes;
using kernel::kMostPipes;
using kernel::kMostReservoirs;
using kernel::Network;

struct ReservoirState {
  Nozzle nozzle;
  V p, t, y;                      // what the pipes see
  V volume, mass, burnt, energy;  // Kind::volume
  V d_mass, d_burnt, d_energy;    // this step
  V held, held_t, held_y;         // Kind::returning: gas that was pushed in and has not come back
  V given_p, given_t, given_y, resistance;
  V base, damping, mean_flow;  // Kind::outside
  V mean_p, mean_in;           // sums over the cycle: p dt, mass in
};

// What a pipe brought to its end, degree by degree: the pressure there if nothing passed, area over
// speed of sound, temperature, burnt share.
inline constexpr int kTraced = 4;
struct Trace {
  V of[kTraced][kCycle];
};

struct TraceState {
  Trace kept, now;
  double seconds[kCycle];
  bool filled;
};

struct JointState {
  int trace = -1;
  V in_m2, out_m2, warm_in, warm_out;
  bool shut = false, cold = true;
  Passing now;
};

struct Machine {
  const Network* net;
  PipeState pipe[kMostPipes];
  ReservoirState reservoir[kMostReservoirs];
  JointState joint[kMostJoints];
  CylinderState cylinder[kMostCylinders];
  TraceState trace[kernel::kMostCopied];
  PlenumSwing plenum;  // of the one-cylinder form
  Nozzle pipe_nozzle[kMostPipes];
  Species species;
  V cooling, fuel_j, blow_by, burn_limit, burn_fade, open_heat, closed_heat, wall_k, target,
      throttle_open, outside_p;
  V throttle_m2, throttle_factor;
  V last_fresh, last_residual, mean_map;
  int settled_for[kMostLanes], smothered_for[kMostLanes];
  double history[8][kMostLanes];
  bool ready;
  long steps, cell_steps;
};

FW_INLINE V load(const kernel::Lanes& from) {
  V v = splat(from[0]);
  for (int i = 0; i < kLanes; ++i) set_lane(v, i, from[i]);
  return v;
}

}  // namespace fuelwright::physics::FUELWRIGHT_KERNEL
