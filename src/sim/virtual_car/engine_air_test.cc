#include "sim/virtual_car/engine_air.h"

#include <cmath>

#include "sim/virtual_car/test_car.h"

namespace fuelwright::sim::virtual_car::engine_air_test {
namespace {

Truth with_air(std::uint64_t seed, double model_error) {
  const car::Sheet sheet = test_sheet();
  Truth truth = drawn_truth(sheet, seed);
  const Status done =
      give_air(truth, sheet, seed, {.model_error = model_error, .speeds = 5, .pressures = 4});
  EXPECT_TRUE(done.ok());
  return truth;
}

double rms_log(const car::Surface& a, const car::Surface& b) {
  double sum = 0;
  for (std::size_t i = 0; i < a.values.size(); ++i) {
    sum += std::pow(std::log(a.values[i] / b.values[i]), 2);
  }
  return std::sqrt(sum / static_cast<double>(a.values.size()));
}

TEST(EngineAir, IsTheSameForTheSameSeedAndAnotherEngineForAnother) {
  const Truth a = with_air(3, 0.02), again = with_air(3, 0.02), other = with_air(4, 0.02);
  EXPECT_EQ(a.air.ve, again.air.ve);
  EXPECT_EQ(a.air.residual, again.air.residual);
  EXPECT_GT(rms_log(*a.air.ve, *other.air.ve), 0.01);
}

TEST(EngineAir, TheErrorBesideTheFlowModelIsAsLargeAsAskedFor) {
  const Truth plain = with_air(3, 0), wrong = with_air(3, 0.03);
  const double rms = rms_log(*plain.air.ve, *wrong.air.ve);
  EXPECT_GT(rms, 0.008);  // four waves over a small map: about 0.03
  EXPECT_LT(rms, 0.06);
}

TEST(EngineAir, BreathesLikeAnEngine) {
  const Truth t = with_air(3, 0.02);
  const std::size_t top = t.air.ve->grid.y.size() - 1;
  for (std::size_t ix = 1; ix < t.air.ve->grid.x.size(); ++ix) {
    EXPECT_GT(t.air.ve->node(ix, top), 0.6);
    EXPECT_LT(t.air.ve->node(ix, top), 1.2);
    EXPECT_LT(t.air.residual->node(ix, top), t.air.residual->node(ix, 0));
  }
}

}  // namespace
}  // namespace fuelwright::sim::virtual_car::engine_air_test
