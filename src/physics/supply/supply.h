/// Can the fuel system feed this engine? The front door of this module.
///
///   FW_TRY(const SupplyAnswer a, size_supply(sheet, demand, {}));
///   if (a.first) ...   a.first->part, a.first->at, a.first->power        // "the pump, at 5,400"
///   a.plan             // the smallest changes, one after another, that restore the margin
///
/// The sheet's parts with their tolerances are drawn, each with one engine of the demand, and every
/// one is asked over all speeds up to the rev limit. Numbers only; sentences are made by the
/// service. Everything in SI; an Interval is 2.5, 50 and 97.5 %. Theory: docs/theory/supply.md.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "physics/ensemble/ensemble.h"
#include "physics/supply/cure.h"
#include "physics/supply/demand.h"
#include "physics/supply/trace.h"
#include "physics/supply/vapour.h"
#include "physics/supply/worth.h"

namespace fuelwright::physics::supply {

struct SupplySettings {
  double margin = 0.10;  ///< that cures must restore, over the demand at every speed
  int samples = 256;     ///< systems drawn, 16..4096
  std::uint64_t seed = 1;
  std::optional<Boost> boost;      ///< the same car with pressure behind the throttle
  std::optional<RailTrace> trace;  ///< of a recorded pull (without that boost)
};

/// One speed at full throttle.
struct SpeedRow {
  Need need;                         ///< middle engine
  physics::Interval fuel_kg_s;       ///< demand
  physics::Interval power_w;         ///< at the crank, as far as it is fed
  RuleOfThumb rule{};                ///< beside it, for the middle power: common practice
  physics::Interval pump_kg_s;       ///< what the pump can send
  physics::Interval injectors_kg_s;  ///< what the injectors can let through
  physics::Interval margin;          ///< least of all sides [-]
  Margins middle;                    ///< of the middle system, side by side
  OperatingPoint point;              ///< of the middle system
  double short_share = 0;            ///< of the systems drawn that are short here
};

struct Share {
  Weak part{};
  double share = 0;
};
/// What runs out first.
struct Shortage {
  Weak part{};  ///< to blame, of the middle system
  Side side{};
  EngineSpeed at{};   ///< middle system; 0: the lowest speed of the demand
  Power power{};      ///< there, middle engine
  double margin = 0;  ///< at its worst [-], below 0
  EngineSpeed worst_at{};
};

/// One side by itself, whatever the others do.
struct SideAnswer {
  bool there = false;  ///< a lift pump that is not fitted is not
  double margin = 0;   ///< least of the middle system over the speeds [-]
  EngineSpeed margin_at{};
  physics::Interval spread;             ///< of that margin, of all drawn systems
  double short_chance = 0;              ///< share of the drawn systems in which this side is short
  std::optional<EngineSpeed> runs_out;  ///< of the middle system
};

/// Warm idle.
struct IdleAnswer {
  bool looked_at = false;
  physics::Interval effective_s;  ///< pulse without dead time
  physics::Interval total_s;
  physics::Interval duty;
  double too_large = 0;  ///< share of the systems whose pulse is too short to be repeated
  double largest_flow =
      0;  ///< injector flow at which the middle one would be at its limit, over the present
  double squirts = 0;         ///< as they are; fewer make the pulse longer
  PressureStep rail_above{};  ///< return hose: rail over its setting at idle
  OperatingPoint point;
};

struct LiftAnswer {
  bool fitted = false;
  double margin = 0;  ///< of the lift pump alone at the largest demand [-]
  Duration lasts{};   ///< a full surge tank at that demand; 0: for ever
};

struct SupplyAnswer {
  std::vector<SpeedRow> curve;
  double short_chance = 0;          ///< that it runs out below the rev limit
  std::vector<Share> first_shares;  ///< of those that run out: what is to blame first, most first
  std::optional<Shortage> first;    ///< of the middle system; none: it feeds the engine
  /// Speed where the drawn systems run out, of all of them; a high (or middle) of 0 means that
  /// those systems do not.
  physics::Interval runs_out_rpm{};
  std::array<SideAnswer, 3> sides;  ///< by Side
  Weak tightest{};                  ///< part with the least margin, short or not
  Side tightest_side{};
  double margin = 0;                ///< least of the middle system
  physics::Interval margin_spread;  ///< of all drawn systems, least over the speeds
  EngineSpeed margin_at{};
  IdleAnswer idle;
  VapourMargin vapour;  ///< at the tightest speed
  LiftAnswer lift;
  std::vector<Cure>
      cures;      ///< of the tightest side: each alone restores its margin (or says it cannot)
  CurePlan plan;  ///< everything that must change
  double short_chance_after = 0;  ///< with that plan
  std::vector<Worth> worth;       ///< what to measure first
  System middle;                  ///< as used
  bool measured_delivery = false, measured_volts = false, measured_trace = false;
};

/// Errors: those of check(demand), supply_of() and binned(); out_of_range for settings outside
/// their range, or a demand that ends below its second speed at the rev limit.
Result<SupplyAnswer> size_supply(const car::Sheet& sheet, const Demand& demand,
                                 const SupplySettings& settings);

}  // namespace fuelwright::physics::supply
