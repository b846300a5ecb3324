#include "service/estimate_map.h"

#include <algorithm>

#include "service/ensembles.h"

namespace fuelwright::service {
namespace {

using advice::Way;

const std::vector<double>& instrument_levels() {
  static const std::vector<double> sd{advice::level_sd(Way::pulse_width),
                                      advice::level_sd(Way::metered_air)};
  return sd;
}

EstimatedMap estimate_map(const Ground& ground, const Task& task, const Witnesses& w) {
  const advice::SampleSource all = join(w.speakers, task);
  const auto prior = advice::DynamicsPrior::of(ground.sheet);
  if (w.drives.empty()) {
    advice::EstimateOptions options;
    options.prior = task.prior;
    options.instrument_level_sd = instrument_levels();
    return {advice::estimate(task.start, task.what, all, options), std::nullopt, prior};
  }
  advice::DynamicOptions options;
  options.prior = task.prior;
  options.dynamics = prior;
  options.instrument_level_sd = instrument_levels();
  advice::DynamicEstimate e = advice::estimate_dynamic(
      task.start, task.what, w.drives, w.speakers.empty() ? advice::SampleSource{} : all, options);
  advice::MapEstimate map = e.map;
  return {std::move(map), std::move(e), prior};
}

advice::Prior parts_as_a_table() {
  advice::Prior prior = advice::table_as_found_prior();
  prior.description =
      "the table computed from the parts, as any table made for an engine like it: what was "
      "measured does not fit the engines that could be this one";
  return prior;
}

}  // namespace

LearnedMap learn_map(const Ground& ground, Task task, const Witnesses& w) {
  EstimatedMap by_parts = estimate_map(ground, task, w);
  LearnedMap out{std::move(task), std::move(by_parts), std::nullopt};
  if (!ground.ensemble || !out.task.by_ensemble) return out;
  out.family = family_of(*ground.ensemble, out.by.map.evidence, {out.task.start, out.task.prior});
  if (!out.family || out.family->may_extrapolate()) return out;
  out.task.prior = parts_as_a_table();
  out.by = estimate_map(ground, out.task, w);
  return out;
}

double shared_sd(const Witnesses& w) {
  double least = 1;
  for (const auto& d : w.drives) {
    const bool absolute = d.fuel_from == advice::FuelFrom::pulse_width;
    least = std::min(least, absolute ? advice::level_sd(Way::pulse_width) : 0.0);
  }
  for (const Speaker& s : w.speakers) least = std::min(least, advice::level_sd(s.observer.way()));
  return least < 1 ? least : 0.0;
}

}  // namespace fuelwright::service
