/// What is not known exactly about an engine: the parts of its sheet with their tolerances, and
/// what no sheet states, each as a number z that is about standard normal.
///
///   const auto parts = uncertain_parts(sheet);
///   const Variant engine = variant_of(sheet, parts, z);     // one engine that could be this one
///
/// A tolerance is a 95 % half-width, so z = 1.96 moves a part by its tolerance (ensemble.1) Ties
/// are kept: a bore is drawn at the sheet's displacement, typical durations at 0.006 and 0.200 in
/// go with the one at 0.050 in, typical flow and pipes go with the valve they were derived from.
#pragma once

#include <functional>
#include <span>
#include <string>
#include <vector>

#include "car/build/sheet.h"
#include "physics/breathing/unstated.h"

namespace fuelwright::physics {

inline constexpr double k95 = 1.959964;  ///< 95 % half-width of a standard normal (arithmetic)
inline constexpr double kMost_z = 3.0;   ///< z beyond this is taken as this

/// One thing that is not known exactly, in words and without the engine.
struct Part {
  std::string id;      ///< "cam.intake_centreline", "unstated.lost_motion"; never changes
  std::string name;    ///< "intake centreline"
  std::string group;   ///< engine, cam, heads, intake, exhaust, unstated
  std::string source;  ///< measured, stated, computed, typical, or where an unstated spread is from
  std::string half_width;  ///< of 95 %, with its unit: "2 deg", "13 %"
  std::string measuring;   ///< what would tell: "degreeing the cam"; empty if nothing usual does
  double leaves = 1;       ///< share of the half-width that such a measurement leaves, 0..1
  friend bool operator==(const Part&, const Part&) = default;
};

struct Variant {
  car::Sheet sheet;
  Unstated unstated;
};

struct UncertainPart : Part {
  std::function<void(Variant&, double z)> apply;  ///< steps add up or multiply: the order is free
};

/// Every part with a tolerance that matters to air, in a fixed order. Left out: counts and choices
/// (typical ones too), the rod (it costs little), throttle and duct (the map stands over manifold
/// pressure), place and weather (they belong to the map's surroundings and VE is referred to them).
std::vector<UncertainPart> uncertain_parts(const car::Sheet& sheet);

/// The engine with every part moved by its z (one a part); the result is held within what can be:
/// an advertised duration stays the longest, nothing falls below 1/4 of or rises above 4 times its
/// value.
Variant variant_of(const car::Sheet& sheet, std::span<const UncertainPart> parts,
                   std::span<const double> z);

}  // namespace fuelwright::physics
