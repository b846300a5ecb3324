// Burnt gas left in the cylinder against the correlation of Fox, Cheng and Heywood, SAE 931025
// (from memory; its overlap factor is uncertain by 0.81 to 1.0):
//   x = 1.266 OF/N (p_i/p_e)^-0.87 sqrt(p_e - p_i) + 0.632 phi (p_i/p_e)^-0.74 / r_c,
//   OF = (D_i A_i + D_e A_e)/V_d  [deg/m], N [rev/s], p [bar]
// A: lift over crank angle from opening to equal lifts (intake), from there to closing (exhaust).
// Our typical values have seen this correlation (unstated.h): it shows trends, it proves no level.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>

#include "car/build/sheet_file.h"
#include "physics/breathing/breathing.h"
#include "physics/breathing/internal/lobe.h"
#include "physics/breathing/internal/parts.h"

namespace fuelwright::physics {
namespace {

car::Sheet v8(double duration, double separation) {
  const auto s = car::read_sheet(
      fmt::format("[engine]\ndisplacement = \"6.2 l\"\ncylinders = 8\ncompression = 10\n"
                  "[cam]\ntappet = \"hydraulic_roller\"\nintake_duration_050 = \"{} deg\"\n"
                  "exhaust_duration_050 = \"{} deg\"\nlobe_separation = \"{} deg\"\n"
                  "[injection]\ninjector_flow = \"36 lb/h at 43.5 psi\"\n[fuel]\nname = "
                  "\"petrol\"\n",
                  duration, duration + 6, separation),
      "sheet.toml");
  EXPECT_TRUE(s.ok()) << (s.ok() ? "" : s.error().line());
  return *s;
}

double overlap_factor(const car::Sheet& s, double swept_m3) {
  const LiftCurve in = lift_curve(*Lobe::make(intake_card(s, {}))),
                  out = lift_curve(*Lobe::make(exhaust_card(s, {})));
  double intake = 0, exhaust = 0;  // m deg
  for (std::size_t d = 270; d < 450; ++d) {
    if (in[d] <= 0 || out[d] <= 0) continue;
    (in[d] <= out[d] ? intake : exhaust) += std::min(in[d], out[d]);
  }
  return (s.heads.intake_valve.value.si * intake + s.heads.exhaust_valve.value.si * exhaust) /
         swept_m3;
}

double fox(double of, double rev_s, double p_in_bar, double p_out_bar, double compression) {
  const double ratio = p_in_bar / p_out_bar;
  return 1.266 * of / rev_s * std::pow(ratio, -0.87) * std::sqrt(p_out_bar - p_in_bar) +
         0.632 * std::pow(ratio, -0.74) / compression;
}

struct Compared {
  AirMap map;
  double of;
  double ratio(std::size_t ix, std::size_t iy) const {
    const AirNode& n = map.node(ix, iy);
    return n.residual / fox(of, n.speed.rpm / 60, n.map.from_zero.in(bar), 1.0, 10);
  }
};
Compared compare(double duration, double separation) {
  const car::Sheet s = v8(duration, separation);
  const EngineModel m = *engine_model(s);
  Surroundings around{absolute(100 * kPa), celsius(35)};
  around.lambda = 1;
  const MapPlaces places{{rpm(900), rpm(1500), rpm(2500)},
                         {absolute(35 * kPa), absolute(45 * kPa), absolute(55 * kPa),
                          absolute(65 * kPa), absolute(75 * kPa), absolute(85 * kPa)},
                         around};
  return {air_map(m, places), overlap_factor(s, m.parts().swept_m3)};
}

const std::vector<Compared>& cams() {
  static const std::vector<Compared> kAll = {compare(204, 114), compare(218, 112),
                                             compare(236, 110)};
  return kAll;
}

TEST(Residual, FallsWithPressureAndSpeedAndRisesWithOverlapAsTheCorrelationSays) {
  for (std::size_t c = 0; c < cams().size(); ++c) {
    const AirMap& map = cams()[c].map;
    for (std::size_t iy = 0; iy < map.pressures.size(); ++iy) {
      for (std::size_t ix = 0; ix < map.speeds.size(); ++ix) {
        const AirNode& n = map.node(ix, iy);
        if (iy > 0) {
          EXPECT_LT(n.residual, map.node(ix, iy - 1).residual);
        }
        if (ix > 0 && n.reachable) {
          EXPECT_LT(n.residual, map.node(ix - 1, iy).residual);
        }
        if (c > 0) {
          EXPECT_GT(n.residual, cams()[c - 1].map.node(ix, iy).residual);
        }
      }
    }
  }
}

// Reached: 0.72 to 1.07 of the correlation, 0.81 on the mean. We are low by a quarter wherever
// overlap matters little: the correlation keeps 0.063/(10 compression) where nothing flows back.
TEST(Residual, LiesWithinAThirdOfTheCorrelationWhereTheEngineRuns) {
  double sum = 0;
  int n = 0;
  for (const Compared& c : cams()) {
    for (std::size_t iy = 0; iy < c.map.pressures.size(); ++iy) {
      for (std::size_t ix = 0; ix < c.map.speeds.size(); ++ix) {
        if (!c.map.node(ix, iy).reachable) continue;
        EXPECT_GT(c.ratio(ix, iy), 0.68) << c.of << " " << ix << " " << iy;
        EXPECT_LT(c.ratio(ix, iy), 1.15) << c.of << " " << ix << " " << iy;
        sum += c.ratio(ix, iy);
        ++n;
      }
    }
  }
  EXPECT_GT(n, 45);
  EXPECT_NEAR(sum / n, 0.81, 0.05);
}

TEST(Residual, TheBigCamsIdleLiesInTheBandOfTheCorrelation) {
  for (const std::size_t iy : {3U, 4U, 5U}) {  // 65, 75, 85 kPa at 900 rpm
    EXPECT_GT(cams()[2].ratio(0, iy), 0.81);
    EXPECT_LT(cams()[2].ratio(0, iy), 1.15);
  }
}

}  // namespace
}  // namespace fuelwright::physics
