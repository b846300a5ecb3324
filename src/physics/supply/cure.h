/// Cures: the smallest change of one part that restores a stated margin.
///
/// Each change makes its side's margin rise steadily, so the smallest is found by halving an
/// interval. What cannot do it within what the trade sells is said not to. A change must not make
/// another side fall below the goal (more pressure feeds injectors and starves the pump).
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "base/units/number.h"
#include "physics/supply/margins.h"

namespace fuelwright::physics::supply {

enum class Change : std::uint8_t {
  injector_flow,        ///< of every injector, at its rated pressure and fluid [kg/s]
  odd_injectors,        ///< the smaller ones made like the middle one; the smallest flow [kg/s]
  regulator_pressure,   ///< setting [Pa]
  regulator_reference,  ///< to the manifold (0: open air, 1: manifold)
  pump_flow,         ///< of one pump at its rated voltage and the pressure it works against [m3/s]
  wire_area,         ///< of feed and ground [m2]; contacts as they are
  new_feed,          ///< the same with sound contacts (relay at the pump) [m2]
  charging_voltage,  ///< [V]
  hose_diameter,     ///< [m]
  filter,            ///< loss at its rated flow [Pa]
  suction_diameter,  ///< [m]
  fuel_temperature,  ///< the hottest that may be [K]
  inlet_pressure,    ///< that a pump in front must add before the main one [Pa]
  lift_flow,         ///< [m3/s]
};
const char* name_of(Change what);

struct Cure {
  Change what{};
  Weak part{};         ///< the part that is changed
  Kind kind{};         ///< of the numbers
  double from_si = 0;  ///< as it is
  double to_si = 0;    ///< the smallest that restores the margin; the most that was tried, if none
  double sold_si = 0;  ///< the next that is sold, where sizes are steps; else to_si
  bool restores = false;
  Side side{};        ///< whose margin
  double margin = 0;  ///< least margin of that side afterwards
};

/// Puts `to_si` in place; flows of pump and injectors by their share, so that it can be done to any
/// system that could be this one.
void apply(System* s, const Cure& cure);

/// Every change that might restore `goal` on this side, each by itself; those that do first, and of
/// these the one for the part to blame first of all.
std::vector<Cure> cures(const System& s, std::span<const Need> needs, Side side, double goal);

/// Changes, one after another, until every side has the goal: each time the tightest side, and for
/// its part to blame the change that belongs to it. Empty if nothing is below the goal. `enough`
/// says whether they do it.
struct CurePlan {
  std::vector<Cure> steps;
  bool enough = true;
};
CurePlan cure_plan(const System& s, std::span<const Need> needs, double goal);

}  // namespace fuelwright::physics::supply
