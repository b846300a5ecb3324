/// What the fuel system sends where the car has not been driven yet, by physics/supply.
///
///   FW_TRY(options.supply, drawn_supply(sheet, {}));       // then look_ahead(input, options)
///
///   missing = ln(asked/sent), sent = least of what the rail's balance delivers and of what the
///   injectors pass within the largest duty that may be used                         (outlook.7)
///   a       = max(0, missing(node) - missing(largest flow that was driven))          (outlook.8)
///
/// for each system that could be this car's: what was missing at the largest driven flow is in the
/// estimate already. With systems k the mixture's distribution is the mean over k of the normal
/// ones of (outlook.5) with their own a_k; its quantiles and its chance follow from that.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "advice/outlook/fuel_asked.h"
#include "physics/supply/trace.h"

namespace fuelwright::advice {

struct SupplyAheadSettings {
  int systems = 96;  ///< drawn from the sheet's tolerances, 16..1024
  std::uint64_t seed = 1;
  /// Rail pressure of a recorded pull, and what the engine asks at full throttle (speeds
  /// increasing, 2 or more): pump and regulator are then those that the pull shows.
  std::optional<physics::supply::RailTrace> trace;
  std::vector<physics::supply::Need> needs;
};
/// Errors: those of physics::supply::supply_of() and binned(); out_of_range for settings outside
/// their bounds.
Result<std::vector<physics::supply::System>> drawn_supply(const car::Sheet& sheet,
                                                          const SupplyAheadSettings& settings);

/// (outlook.7) of one system; 0 or more. Capped at ln 10.
double missing_fuel(const physics::supply::System& system, const physics::supply::Need& need);

/// ln lambda as a mixture of normal distributions of one standard deviation.
class MixedMixture {
 public:
  /// middle: without missing fuel; missing: one a a system, not empty; sd above 0.
  MixedMixture(double middle, double sd, std::vector<double> missing);
  double above(double ln_lambda) const;  ///< P(ln lambda > x)
  double quantile(double share) const;   ///< 0 < share < 1

 private:
  double middle_, sd_;
  std::vector<double> missing_;
};

}  // namespace fuelwright::advice
