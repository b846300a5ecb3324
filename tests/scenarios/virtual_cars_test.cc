// Virtual cars whose truth is known: what is recovered must come near it. Cars 201 to
// 212; bench/full_estimate prints all twelve, and how often the claimed intervals hold.
#include <gtest/gtest.h>

#include "bench/full_estimate/compare.h"

namespace fuelwright::bench {
namespace {

constexpr double kMinutes = 5;
// Of averaging's error. Whole tables stand or fall together, so three cars give a rough figure.
constexpr double kOfAveraging = 0.7;  // steady driving alone
constexpr double kDynamicOf = 0.4;

TEST(VirtualCars, FiveMinutesOfDrivingBeatAveragingAndTheTableAsFound) {
  double before = 0, averaging = 0, fixed = 0, dynamic = 0;
  for (const std::uint64_t number : {201, 204, 207}) {
    const Material m = material(number, {}, {});
    const std::array recording{read(first_minutes(m.ordinary, kMinutes))};
    const auto rms = [&m](const Says& says) { return scores_of(m, kMinutes, says).driven.rms(); };
    const Says by_static = by_static_form(recording, m.car, advice::Way::correction);
    const Says by_dynamic = by_dynamic_form(recording, m.car, advice::Way::correction).says();
    const double found = rms([](const auto&) { return Answer{}; });
    before += found;
    averaging += rms(averaged(recording[0], m.car.table(), {}));
    fixed += rms(by_static);
    dynamic += rms(by_dynamic);
    std::printf("%s: found %.1f %%, static %.1f %%, dynamic %.1f %%, its interval holds %.0f %%\n",
                m.car.kind.c_str(), 100 * found, 100 * rms(by_static), 100 * rms(by_dynamic),
                100 * scores_of(m, kMinutes, by_dynamic).driven.coverage());
  }
  EXPECT_LT(fixed, kOfAveraging * averaging);
  EXPECT_LT(fixed, kOfAveraging * before);
  EXPECT_LT(dynamic, kDynamicOf * averaging);
  EXPECT_LT(dynamic, kDynamicOf * before);
}

}  // namespace
}  // namespace fuelwright::bench
