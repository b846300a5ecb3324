/// Before it is tried: the mixture that a table will give where the car has not been driven yet.
///
///   FW_TRY(const Outlook o, look_ahead({estimate, sheet, table, aim, family}, {}));
///   o.nodes[i].mixture->lean;  o.nodes[i].go;          // one node
///   o.ladder.next;                                     // the next step at full throttle
///   (ladder.h) for (const std::string& line : words(o, reader)) ...
///
/// lambda = aim true / table, so with mean m and standard deviation sd of ln(true):
///
///   ln lambda = ln aim + m - ln table,   rich end - 1.96 sd,   lean end + 1.96 sd + a  (outlook.5)
///   chance    = P(lambda > limit) = 1 - Phi((ln limit - ln lambda - a)/sd)             (outlook.6)
///
/// a: fuel delivery. Pump, regulator, wiring and injectors are proven up to the largest flow that
/// was driven; beyond it what may be missing is computed from the parts (OutlookOptions::supply,
/// supply_ahead.h). Without that up to 3 % less may arrive than meant, a = -ln(1 - 0.03), and above
/// 85 % duty nothing is predicted. Theory: docs/theory/outlook.md.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "advice/map_estimate/estimate.h"
#include "advice/outlook/ladder.h"
#include "advice/outlook/supply_ahead.h"
#include "advice/proposal/proposal.h"
#include "car/build/sheet.h"
#include "physics/ensemble/condition.h"

namespace fuelwright::advice {

/// What is said of a node.
enum class Go {
  driven,         ///< measured: nothing to predict
  fine,           ///< fine to try
  with_care,      ///< approach step by step
  not_yet,        ///< do not try yet
  not_predicted,  ///< nothing is said of it, and so it is not to be tried on our word
};
/// "driven", "fine to try", "approach with care", "do not try yet", "not predicted".
const char* name_of(Go go);

/// The strongest reason for it.
enum class Because {
  measured,
  within_limit,      ///< the whole interval lies where it should
  light_load,        ///< nothing here is hurt by a wrong mixture for a moment
  may_be_lean,       ///< the chance of being leaner than the safe limit is not small
  too_lean,          ///< it is large
  may_stumble_lean,  ///< light load, but perhaps too lean to burn evenly
  may_be_too_rich,   ///< perhaps too rich to burn evenly
  near_duty,         ///< the injectors are nearly at their end
  beyond_duty,       ///< beyond most_duty
  no_pressure,       ///< the regulator leaves nothing to press fuel through the injectors
  no_model,          ///< high load, a mere guess: no engine model stands behind it
  doubtful_family,   ///< the engine fits its family badly
  outside_family,  ///< the engine is not of its family: nothing is concluded beyond what was driven
  rung_refuted,    ///< a step of full throttle below it came out beyond its interval
  outside_axes,    ///< the table reaches beyond the estimate's axes
  beyond_rev_limit,
  overrun,      ///< below 16 kPa: no steady driving gets there
  needs_boost,  ///< above ambient pressure, where this engine has never been
};

struct MixtureInterval {
  car::Lambda rich, middle, lean;  ///< 95 % between rich and lean
};

struct NodeOutlook {
  Go go = Go::not_predicted;
  Because because = Because::outside_axes;
  std::optional<MixtureInterval> mixture;  ///< none where nothing is predicted
  double sd = 0;                           ///< of ln lambda, without fuel delivery
  double missing = 0;                      ///< median of (outlook.8): shift of ln lambda
  double missing_chance = 0;               ///< of 2 % or more, where the supply is computed
  std::optional<FuelAsked> fuel;           ///< none where it cannot be worked out
  bool new_flow = false;             ///< more fuel than was ever driven: (outlook.5)'s a is in
  std::optional<car::Lambda> limit;  ///< safe limit, at high load
  std::optional<double> chance;      ///< (outlook.6)
};

struct OutlookInput {
  const MapEstimate& estimate;
  const car::Sheet& sheet;
  const car::Surface& table;  ///< that will be loaded: proposed or in force
  const car::Surface& aim;    ///< lambda the unit aims at, axes of the same kinds
  /// Whether the engine belongs to the family of its prior; none: not tested, because no engine
  /// model stands behind the prior.
  std::optional<physics::FamilyTest> family;
  /// Steps of full throttle that were predicted and then driven (check_rung(), rung.h). A refuted
  /// one stops the climb: from its speed on nothing is predicted at high load, until its cause is
  /// found and the caller leaves it out.
  std::vector<RungCheck> climbed = {};
};

struct OutlookOptions {
  SafeLimit safe;
  double fine_chance = 0.01;  ///< of being too lean, up to which a node is fine. 0.0005 to 0.05
  double care_chance = 0.10;  ///< up to which it may be approached. fine_chance to 0.25
  /// Fuel systems that could be this car's (drawn_supply()): what they send takes the place of the
  /// two rules below. Empty: not computed.
  std::vector<physics::supply::System> supply;
  double most_duty = 0.85;      ///< beyond it nothing is predicted. 0.50 to 0.95
  double delivery_lean = 0.03;  ///< fuel that may be missing at a new flow, share. 0 to 0.20
};
/// Error out_of_range naming what lies outside its bounds.
Status validate(const OutlookOptions& options);

struct Outlook {
  car::Grid grid;
  std::vector<NodeOutlook> nodes;  ///< [y][x]
  Ladder ladder;
  std::optional<MassFlow> proven_flow;  ///< largest that was driven; none: nothing was
  std::optional<physics::FamilyTest> family;
  std::optional<RungCheck> refuted;  ///< the lowest step that came out beyond its interval
  bool supply_computed = false;      ///< (outlook.7) stands in the mixtures; needs a VE table
  bool assumed_air = false;  ///< no VE is known (a correction table): 110 % was taken for the fuel
  OutlookOptions options;    ///< without the fuel systems
  PressureStep rail;         ///< what the regulator should hold, above ...
  car::RegulatorReference rail_above = car::RegulatorReference::manifold;

  int count(Go go) const;
};

/// Errors: those of validate(); bad_input if axes are of other kinds; out_of_range if the aim or
/// the table is no such thing, An engine outside its family is no
/// error: `go` says not_predicted.
Result<Outlook> look_ahead(const OutlookInput& input, const OutlookOptions& options);

/// One node in a sentence: "95.0 kPa, 4200 rpm: approach with care; lambda 0.870 (0.83 to 0.92)..."
std::string says(const Outlook& outlook, std::size_t node, const Reader& reader);
/// All of it: the verdict first, then the ladder, the lever, and what to watch.
std::vector<std::string> words(const Outlook& outlook, const Reader& reader);

}  // namespace fuelwright::advice
