// The held-out test on a real recording (bench/held_out_air): source small_car_1200.csv of the
// outside data, CC-BY-4.0.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "bench/held_out_air/held_out.h"

namespace fuelwright::bench {
namespace {

const Drives* drives() {
  static const auto loaded = load();
  return loaded ? &*loaded : nullptr;
}

const std::vector<int> kPool = {6, 7, 8, 9, 10, 11, 12};
const std::vector<int> kScored = {9, 10, 11, 12};
constexpr unsigned kSeeds = 8;

TEST(OutsideHeldOutAir, WePredictDrivesNeverSeenBetterThanAveragingAndAPlainSmoothPrior) {
  if (!drives()) GTEST_SKIP() << "FUELWRIGHT_OUTSIDE_DATA is not set";
  for (const std::size_t block : {60, 240, 720, 0}) {
    const double ours = score(*drives(), Contender::ours, kScored, kPool, block, kSeeds).rms;
    for (const auto other :
         {Contender::cell_average, Contender::bilinear_average, Contender::plain_smooth}) {
      EXPECT_LT(ours, score(*drives(), other, kScored, kPool, block, kSeeds).rms)
          << block << " rows against " << name_of(other);
    }
  }
}

TEST(OutsideHeldOutAir, TheErrorStaysWhereItWasWhenTheSettingsWereFrozen) {
  // 12.4, 7.7, 5.0, 3.7 % were reached with 20 seeds; one part in five is left for other seeds.
  if (!drives()) GTEST_SKIP() << "FUELWRIGHT_OUTSIDE_DATA is not set";
  const std::pair<std::size_t, double> reached[] = {
      {60, 0.124}, {240, 0.077}, {720, 0.050}, {0, 0.037}};
  for (const auto& [block, rms] : reached) {
    EXPECT_LT(score(*drives(), Contender::ours, kScored, kPool, block, kSeeds).rms, 1.2 * rms)
        << block;
  }
}

TEST(OutsideHeldOutAir, IntervalsThatSayNinetyFivePercentHoldAboutThatOftenOnAllDrivesTogether) {
  if (!drives()) GTEST_SKIP() << "FUELWRIGHT_OUTSIDE_DATA is not set";
  const Score s = score(*drives(), Contender::ours, kScored, kPool, 0, 1);
  EXPECT_GT(s.held, 0.92);
  EXPECT_LT(s.half_width, 4 * s.rms);
}

TEST(OutsideHeldOutAir, VeAtFullLoadIsTheOnePublishedForThisRecording) {
  // Medians at MAP 100 kPa and above, 500 rpm bins from 1000, 1500, 2000, 2500 rpm: 0.78, 0.79,
  // 0.88, 0.89 (25, 113, 182, 66 rows).
  if (!drives()) GTEST_SKIP() << "FUELWRIGHT_OUTSIDE_DATA is not set";
  const double expected[] = {0.78, 0.79, 0.88, 0.89};
  for (int bin = 0; bin < 4; ++bin) {
    std::vector<double> ve;
    for (const Row& r : drives()->rows) {
      if (r.map_kpa >= 100 && r.rpm >= 1000 + 500 * bin && r.rpm < 1500 + 500 * bin)
        ve.push_back(std::exp(r.ln_ve));
    }
    ASSERT_GT(ve.size(), 20U);
    std::nth_element(ve.begin(), ve.begin() + static_cast<std::ptrdiff_t>(ve.size() / 2), ve.end());
    EXPECT_NEAR(ve[ve.size() / 2], expected[bin], 0.015) << 1000 + 500 * bin;
  }
}

}  // namespace
}  // namespace fuelwright::bench
