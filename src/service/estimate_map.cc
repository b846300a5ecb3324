#include "service/estimate_map.h"

#include <algorithm>

namespace fuelwright::service {
namespace {

using advice::Way;

const std::vector<double>& instrument_levels() {
  static const std::vector<double> sd{advice::level_sd(Way::pulse_width),
                                      advice::level_sd(Way::metered_air)};
  return sd;
}

}  // namespace

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
