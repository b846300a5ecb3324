/// How lean an engine may run where it works hard, and what counts as working hard.
///
///   SafeLimit safe;                                  // lambda 0.92 unboosted, 0.85 with boost
///   safe.at(load_share(axis.kind(), axis[i], ambient))->value
///
/// Load share of a place [-], 1 is full throttle without boost:
///
///   MAP: p / p_ambient;  vacuum: 1 - vacuum / p_ambient;  throttle: min(1, 2 opening) (proposal.1)
///
/// Half a throttle's travel already fills the manifold up to middle speeds (common practice, no
/// source). The limit begins at `high_load` with lambda 1 and falls to `leanest` at a share of
/// 0.90, where it stays; above 1 it falls on to `leanest_boosted` at 1.1. Theory:
/// docs/theory/proposal.md.
#pragma once

#include <optional>

#include "base/result.h"
#include "car/fuel/mixture.h"
#include "car/tables/axis.h"

namespace fuelwright::advice {

/// (proposal.1). `load`: a load axis; another kind is a broken contract.
double load_share(car::AxisKind load, double si, AbsolutePressure ambient);

struct SafeLimit {
  /// Leaner than this at full load exhaust valves and pistons run hotter and knock comes sooner;
  /// best power of petrol lies near 0.86 to 0.90 (common practice, no source). 0.80 to 1.00.
  car::Lambda leanest = car::lambda(0.92);
  /// With boost more fuel is left to cool the charge (common practice, no source). 0.70 to
  /// `leanest`.
  car::Lambda leanest_boosted = car::lambda(0.85);
  /// Load share from which a limit holds; usual units hold lambda 1 up to about here (common
  /// practice, no source). 0.60 to 0.95.
  double high_load = 0.80;

  /// None below high load: there a lean engine stumbles but is not harmed.
  std::optional<car::Lambda> at(double load_share) const;
};
/// Error out_of_range naming what lies outside its bounds.
Status validate(const SafeLimit& safe);

/// Error out_of_range unless low <= value <= high: "lean_chance: came 0.2, expected 0.0005 to
/// 0.05".
Status within(const char* what, double value, double low, double high);

}  // namespace fuelwright::advice
