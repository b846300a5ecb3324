// The physics behind the rules: vapour of cold fuel, the wall film, the orifice.
#include <gtest/gtest.h>

#include <cmath>

#include "advice/first_calibration/fuel_vapour.h"
#include "advice/first_calibration/orifice.h"
#include "advice/first_calibration/wall_film.h"

namespace fuelwright::advice::rules_test {
namespace {

const AbsolutePressure kSea = absolute(101.325 * kPa);

TEST(FuelVapour, PureEthanolOverAirHasTheVapourPressureOfEthanol) {
  // Much fuel, little air: gas over the liquid is ethanol at its vapour pressure, 5.95 kPa at 20
  // degC (from memory; (first.2) gives 5.7). Moles of vapour = moles of air pv/(p - pv).
  const double share = evaporated_share(celsius(20), kSea, 1.0, 1.0);
  const double vapour = share * 1000 / 46.07;
  const double air = 1000 / 28.96;
  EXPECT_NEAR(vapour / (vapour + air) * 101.325, 5.95, 0.5);
}

TEST(FuelVapour, MoreWarmthLessPressureAndMoreAirEvaporateMore) {
  for (const double e : {0.0, 0.1, 0.85}) {
    double before = 0;
    for (double c = -40; c <= 100; c += 5) {
      const double s = evaporated_share(celsius(c), kSea, 14, e);
      EXPECT_GE(s, before - 1e-9) << c;
      EXPECT_LE(s, 1);
      before = s;
    }
    EXPECT_GT(evaporated_share(celsius(-10), absolute(40 * kPa), 14, e),
              evaporated_share(celsius(-10), kSea, 14, e));
    EXPECT_GT(evaporated_share(celsius(-10), kSea, 14, e),
              evaporated_share(celsius(-10), kSea, 3, e));
  }
}

TEST(FuelVapour, PetrolInAirBoilsOffAsEquilibriumAirDistillationSays) {
  // From memory: half near -15 to 5 degC, all by 40 to 60 degC at 14 to 16 times its mass of air.
  EXPECT_LT(evaporated_share(celsius(-15), kSea, 15, 0), 0.5);
  EXPECT_GT(evaporated_share(celsius(5), kSea, 15, 0), 0.5);
  EXPECT_LT(evaporated_share(celsius(38), kSea, 15, 0), 0.99);
  EXPECT_GT(evaporated_share(celsius(60), kSea, 15, 0), 0.999);
}

TEST(FuelVapour, TheFuelFoundGivesTheVapourThatWasAskedFor) {
  for (const double c : {-10.0, 0.0, 20.0}) {
    const double f = fuel_for_vapour(celsius(c), kSea, 14.6, 0, 1.0, 12);
    EXPECT_NEAR(f * evaporated_share(celsius(c), kSea, 14.6 / f, 0), 1.0, 1e-6);
  }
  EXPECT_EQ(fuel_for_vapour(celsius(-30), kSea, 9.8, 0.85, 1.0, 8), 8);
}

// The film of (first.10) under fuel that is injected as (first.11) says while pressure rises.
TEST(WallFilm, ASlowRiseKeepsItsMixtureWithTheExtraFuelOfTheRule) {
  const WallFilm film = typical_film(car::InjectionArrangement::ports, celsius(80));
  const double rise = 20e3;  // Pa/s
  const double dt = 1e-4;
  double p = 50e3;
  double mass = film.wetting * film.leaving.si * p;  // settled; air and fuel go with p
  double worst = 0;
  double worst_without = 0;
  double bare = mass;
  for (double t = 0; t < 2.0; t += dt, p += rise * dt) {
    const double inject = p * (1 + tip_in_share(film, rise, absolute(p * pascal)));
    const double into = (1 - film.wetting) * inject + mass / film.leaving.si;
    mass += dt * (film.wetting * inject - mass / film.leaving.si);
    const double into_bare = (1 - film.wetting) * p + bare / film.leaving.si;
    bare += dt * (film.wetting * p - bare / film.leaving.si);
    if (t < 0.8) continue;  // two time constants: the rule is for a rise under way
    worst = std::max(worst, std::abs(into / p - 1));
    worst_without = std::max(worst_without, std::abs(into_bare / p - 1));
  }
  EXPECT_LT(worst, 0.012);
  EXPECT_GT(worst_without, 0.02);
}

TEST(WallFilm, AStepNeedsNoMoreThanAllThatTheWallTakes) {
  const WallFilm film{0.3, 0.5 * second};
  EXPECT_NEAR(tip_in_share(film, 1e9, absolute(50 * kPa)), 0.3 / 0.7, 1e-3);
  // By hand: a = 0.3 x 0.5 x 100/50 = 0.3; extra = 0.3/(1 + 0.3 x 0.7/0.3) = 0.3/1.7
  EXPECT_NEAR(tip_in_share(film, 100e3, absolute(50 * kPa)), 0.3 / 1.7, 1e-12);
  EXPECT_EQ(tip_in_share(film, 0, absolute(50 * kPa)), 0);
}

TEST(WallFilm, ColdWallsAndThrottleInjectionHoldMoreForLonger) {
  const auto ports = car::InjectionArrangement::ports;
  const auto throttle = car::InjectionArrangement::throttle;
  for (double c = -30; c < 110; c += 10) {
    EXPECT_GE(typical_film(ports, celsius(c)).wetting,
              typical_film(ports, celsius(c + 10)).wetting);
    EXPECT_GE(typical_film(ports, celsius(c)).leaving,
              typical_film(ports, celsius(c + 10)).leaving);
    EXPECT_GT(typical_film(throttle, celsius(c)).wetting, typical_film(ports, celsius(c)).wetting);
  }
}

TEST(Orifice, TheFlowPerAreaIsThatOfTheTables) {
  // Air, 101,325 Pa, 298.15 K, Cd 1, g/s per mm2 (computed from isentropic flow): 0.95 0.106553,
  // 0.8 0.194187, choked 0.237160.
  for (const auto& [ratio, per_mm2] :
       {std::pair{0.95, 0.106553}, std::pair{0.8, 0.194187}, std::pair{0.3, 0.237160}}) {
    const Area a =
        effective_area(per_mm2 * g_per_s, kSea, absolute(ratio * 101325 * pascal), kelvin(298.15));
    EXPECT_NEAR(a.in(mm2), 1.0, 2e-4) << ratio;  // R to four digits
  }
}

}  // namespace
}  // namespace fuelwright::advice::rules_test
