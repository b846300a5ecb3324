/// The demand on a grid of speeds, from its first to the rev limit, one row for each engine.
#pragma once

#include <vector>

#include "base/result.h"
#include "physics/supply/demand.h"
#include "physics/supply/system.h"

namespace fuelwright::physics::supply::internal {

inline constexpr std::size_t kMiddle = static_cast<std::size_t>(-1);  ///< the middle engine

struct Series {
  std::vector<EngineSpeed> speeds;
  std::vector<AbsolutePressure> manifold;
  std::vector<std::vector<double>> air_kg_s;  ///< [engine][speed]
  std::vector<std::vector<double>> power_w;
  std::vector<double> middle_air_kg_s, middle_power_w;  ///< medians

  std::size_t engines() const { return air_kg_s.size(); }
  /// What this engine asks of that system (its mixture and fuel).
  std::vector<Need> needs(const System& s, std::size_t engine) const;
  std::vector<double> power_at(std::size_t i) const;
  Power middle_power(EngineSpeed n) const;
};

/// Straight between the demand's speeds, at most 100 rpm apart. An engine that does not burn at a
/// speed (air 0) asks for nothing there. Errors: out_of_range if the demand begins above the rev
/// limit.
Result<Series> series_of(const Demand& demand, EngineSpeed top);

}  // namespace fuelwright::physics::supply::internal
