/// The list of uncertain parts while it is made.
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "physics/ensemble/uncertain.h"

namespace fuelwright::physics::internal {

/// What a measurement is called and the half-width it leaves, in the unit of the part's own.
struct Measuring {
  const char* doing = "";
  double leaves = 0;
};

class PartsList {
 public:
  /// A part of the sheet: left out where its half-width is below `negligible`.
  void add(Part part, car::Source source, double half_width, double negligible,
           const Measuring& measuring, std::function<void(Variant&, double z)> apply) {
    if (!(half_width > negligible)) return;
    part.source = car::name_of(source);
    if (source != car::Source::measured) leave(&part, half_width, measuring);
    out_.push_back({std::move(part), std::move(apply)});
  }
  /// What no sheet states.
  void add_unstated(Part part, double half_width, const Measuring& measuring,
                    std::function<void(Variant&, double z)> apply) {
    leave(&part, half_width, measuring);
    out_.push_back({std::move(part), std::move(apply)});
  }
  std::vector<UncertainPart> take() { return std::move(out_); }

 private:
  // A measurement that leaves more than most of the half-width is not worth a word.
  static void leave(Part* part, double half_width, const Measuring& measuring) {
    constexpr double kNotWorth = 0.9;
    const double share = measuring.leaves / half_width;
    if (measuring.doing[0] == '\0' || share > kNotWorth) return;
    part->measuring = measuring.doing;
    part->leaves = share;
  }
  std::vector<UncertainPart> out_;
};

inline double bounded_z(double z) { return std::clamp(z, -kMost_z, kMost_z); }
/// The step that z makes of a half-width.                                             (ensemble.1)
inline double step_of(double half_width, double z) { return half_width / k95 * bounded_z(z); }
/// value + step, held within 1/4 and 4 times the value.
inline double moved(double value, double step) {
  return value > 0 ? std::clamp(value + step, value / 4, value * 4) : value + step;
}
inline bool follows(car::Source source) {
  return source == car::Source::typical || source == car::Source::computed;
}

void add_cam(const car::Sheet& sheet, PartsList* list);
void add_pipes(const car::Sheet& sheet, PartsList* list);
void add_unstated(PartsList* list);
/// Holds durations, lifts and clearances within what can be.
void settle(car::Sheet* sheet);
void settle(Unstated* unstated);

}  // namespace fuelwright::physics::internal
