#include "advice/map_estimate/judge.h"

#include <fmt/format.h>

#include <algorithm>

namespace fuelwright::advice {
namespace {

constexpr double kMeasuredSeconds = 2.0;
constexpr double kMeasured_sd = 0.022;

}  // namespace

car::NodeMark mark_of(Duration driven, double sd_log) {
  if (driven.si >= kMeasuredSeconds && sd_log < kMeasured_sd) return car::NodeMark::measured;
  return sd_log < kGuess_sd ? car::NodeMark::inferred : car::NodeMark::prior_only;
}

void judge(MapEstimate& out) {
  const auto count = [&](car::NodeMark mark) {
    return std::count(out.evidence.mark.begin(), out.evidence.mark.end(), mark);
  };
  const auto measured = count(car::NodeMark::measured);
  const auto inferred = count(car::NodeMark::inferred);
  if (out.samples == 0) {
    out.verdict = Verdict::do_not_know;
    out.because = "nothing in the recordings can teach this table";
  } else if (measured == 0) {
    out.verdict = inferred == 0 ? Verdict::do_not_know : Verdict::weak;
    out.because = fmt::format("{:.0f} s of driving leave every node less sure than {:.0f} %",
                              out.seconds, 200 * kMeasured_sd);
  } else {
    out.verdict = Verdict::good;
    out.because = fmt::format("{} nodes measured, {} inferred, {} still a guess", measured,
                              inferred, count(car::NodeMark::prior_only));
  }
}

}  // namespace fuelwright::advice
