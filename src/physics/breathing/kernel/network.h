// What a flow kernel is given and what it gives back: plain numbers, no templates, so that every
// instruction set may include it. A network is pipes, reservoirs (what stands at their ends) and
// joints between the two.
#pragma once

namespace fuelwright::physics::kernel {

inline constexpr int kMostLanes = 16;
inline constexpr int kMostCells = 4096;  // of all pipes together
inline constexpr int kMostPipes = 48;
inline constexpr int kMostReservoirs = 64;
inline constexpr int kMostJoints = 96;
inline constexpr int kMostCylinders = 12;
inline constexpr int kMostCopied = 3;  // joints with copies
inline constexpr int kCycle = 720;     // degrees

using Lanes = double[kMostLanes];

struct Pipe {
  int cells;
  double gamma;
  Lanes length_m, area_m2, friction, heat, wall_k;
  int valve_end;     // 0 or 1: the end at a valve, whose last 0.1 m are heated more; -1 none
  Lanes valve_heat;  // that factor
  Lanes start_k, start_burnt, start_pa;
};

enum class Kind {
  cylinder,
  volume,     // a chamber with mass and energy of its own
  outside,    // given pressure and temperature: the open air, or the pipe after the collector
  returning,  // given pressure and temperature; gas pushed into it comes back first, as it was
};

struct Reservoir {
  Kind kind;
  double gamma;
  int cylinder;                             // Kind::cylinder: which one
  Lanes volume_m3;                          // Kind::volume
  Lanes pressure_pa, temperature_k, burnt;  // given or to begin with
  Lanes damping;  // Kind::outside: pressure rises by this times (flow into it - its mean) [Pa s/kg]
  Lanes resistance;  // Kind::outside: pressure rises by this times (mean flow into it)^2, cycle by
                     // cycle [Pa s2/kg2]
  // Kind::returning as a plenum: how many cylinders draw from it in turn (0: its pressure stands
  // still)
  int sharing;
  Lanes inertance;  // length/area of the duct before its throttle [1/m]
  Lanes before_pa;  // before that duct: the open air, or what blows into it
  bool plenum;      // Kind::volume whose mean pressure is the manifold pressure
};

struct Joint {
  int pipe, end, reservoir;
  int valve;      // 0 constant area, 1 intake valve, 2 exhaust valve (of the reservoir's cylinder)
  Lanes in_m2;    // constant area: effective, reservoir into pipe
  Lanes out_m2;   //   pipe into reservoir
  bool throttle;  // its area is set so that the plenum's mean pressure is the target
  // Other cylinders do here what this one does, so many crank degrees later: the reservoir takes in
  // copies of this joint's flow of the last cycles.
  int copies;
  double lag_deg[kMostCylinders];
};

struct Cylinder {
  double phase_deg;  // its firing top dead centre
  Lanes bore_m, crank_m, rod_m, clearance_m3;
};

// Valve areas, degree by degree, lane by lane: [degree * lanes + lane].
struct Valves {
  const float *intake_in, *intake_back, *exhaust_out, *exhaust_back;
};

struct Network {
  int lanes;  // used
  int pipes, reservoirs, joints, cylinders;
  Pipe pipe[kMostPipes];
  Reservoir reservoir[kMostReservoirs];
  Joint joint[kMostJoints];
  Cylinder cylinder[kMostCylinders];
  Valves valves;
  double capture_deg;  // both valves of every lane are shut from here to firing top dead centre
  double rpm;

  Lanes fuel_j_per_kg_air;  // heat that a kilogram of fresh air releases, complete
  Lanes vapour_r;           // gas constant of the fuel's vapour per kilogram of air [J/kg K]
  Lanes vapour_cv;          // its heat capacity per kilogram of air
  Lanes vapour_cooling_j;   // heat taken from each kilogram of fresh air at the valve
  Lanes blow_by, burn_limit, burn_fade, gas_exchange_heat, closed_heat;
  Lanes wall_k;            // of the cylinder
  Lanes target_map_pa;     // throttle control
  Lanes throttle_open_m2;  // of one throttle joint, wide open

  double cfl;
  double step_deg;           // 0: as long as cfl allows; else this, for comparing instruction sets
  int most_cycles;
  double settle;  // change of ve and residual from cycle to cycle that counts as settled
  bool (*stop)(const void*);
  const void* stop_data;
};

struct Lane {  // of one cylinder and lane
  double fresh_kg, trapped_fresh_kg, trapped_kg, pressure_pa, temperature_k, residual;
  double pumping_j, indicated_j, exhaust_k, lost_fresh_kg;
};

// Sums that a conservation test needs, of the last cycle, lane 0 first.
struct Ledger {
  Lanes cylinder_energy, cylinder_energy_in, cylinder_mass,
      cylinder_mass_in;  // change, and what went in
  Lanes pipe_energy, pipe_energy_in, pipe_mass, pipe_mass_in;
};

struct Result {
  Lane lane[kMostCylinders][kMostLanes];
  bool settled[kMostLanes];
  bool by_mean[kMostLanes];  // settled only on the mean of its last cycles
  int cycles[kMostLanes];
  double map_pa[kMostLanes];
  long steps, cell_steps;
  Ledger ledger;
};

}  // namespace fuelwright::physics::kernel
