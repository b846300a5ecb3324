#include "advice/map_estimate/observe.h"

#include <gtest/gtest.h>

#include <cmath>

#include "car/build/sheet_file.h"

namespace fuelwright::advice::observe_test {
namespace {

using signals::Channel;
using signals::Quantity;

const car::Sheet& sheet() {
  static const car::Sheet s = *car::read_sheet(R"(
[engine]
displacement = "5.7 l"
cylinders = 8
[cam]
intake_duration_050 = "222 deg"
[injection]
injector_flow = "30 lb/h"
injector_pressure = "43.5 psi"
regulator_pressure = "43.5 psi"
dead_time = "0.9 ms"
[fuel]
name = "E10"
)",
                                               "v8.toml");
  return s;
}

car::Surface flat(double ve) {
  return car::Surface::flat({car::Axis::even(car::AxisKind::engine_speed, 800, 5600, 9),
                             car::Axis::even(car::AxisKind::map_absolute, 20e3, 100e3, 9)},
                            ve);
}

// A recording in which every row is alike: 2400 rpm, 60 kPa, 90 degC, intake 300 K, 10 rows a
// second.
struct Steady {
  signals::Recording r;
  explicit Steady(std::size_t rows = 100) {
    r.name = "steady.csv";
    r.rows = rows;
    r.segments = {{0, rows, "1"}};
    r.pace = signals::Pace::timed;
    r.row_step = 0.1 * second;
    for (std::size_t i = 0; i < rows; ++i) r.time_s.push_back(0.1 * static_cast<double>(i));
    put(Quantity::rpm, 2400).put(Quantity::map, 60e3).put(Quantity::coolant, 363.15);
    put(Quantity::intake_air, 300);
  }
  Steady& put(Quantity what, double value) {
    Channel c;
    c.what = what;
    c.si.assign(r.rows, value);
    std::erase_if(r.channels, [&](const Channel& old) { return old.what == what; });
    r.channels.push_back(std::move(c));
    return *this;
  }
  std::vector<double>& values(Quantity what) {
    for (Channel& c : r.channels) {
      if (c.what == what) return c.si;
    }
    throw Bug("no such channel");
  }
};

std::vector<Sample> samples_of(const Steady& s, const car::Surface& table,
                               const ObserveOptions& options = {}) {
  const auto o = Observer::make(s.r, sheet(), table, options);
  EXPECT_TRUE(o) << (o ? "" : o.error().line());
  std::vector<Sample> out;
  if (o) o->each(0, 0, 0, [&](const Sample& x) { out.push_back(x); });
  return out;
}

TEST(Observe, AnEngineThatTakesTenPercentMoreReadsLeanAndAsksForMore) {
  // Table 0.80, truth 0.88, open loop at lambda 1: reads 1.10, y = ln 1.1 = +0.0953, by hand.
  Steady s;
  s.put(Quantity::lambda, 1.10).put(Quantity::target, 1.0).put(Quantity::correction, 0.0);
  const auto samples = samples_of(s, flat(0.80));
  ASSERT_EQ(samples.size(), 100U);
  EXPECT_NEAR(samples[50].y, 0.0953, 1e-4);
}

TEST(Observe, ClosedLoopThatAlreadyAddedTenPercentSaysTheSame) {
  Steady s;
  s.put(Quantity::lambda, 1.0).put(Quantity::target, 1.0).put(Quantity::correction, 0.10);
  EXPECT_NEAR(samples_of(s, flat(0.80))[50].y, 0.0953, 1e-4);
}

TEST(Observe, TheIdleOfARoughCamIsNotLearnedFromTheMixtureThatReadsLeanThere) {
  // Overlap draws burnt gas in, cycles misfire, their oxygen reads lean (common practice, no
  // source).
  Steady idle;
  idle.put(Quantity::rpm, 850).put(Quantity::map, 55e3).put(Quantity::lambda, 1.10);
  idle.put(Quantity::target, 1.0).put(Quantity::correction, 0.0);
  const car::Surface table = flat(0.80);
  car::Sheet mild = sheet(), rough = sheet();
  mild.cam.intake_duration_050.value = mild.cam.exhaust_duration_050.value = crank_degrees(195);
  EXPECT_GT(Observer::make(idle.r, mild, table, {})->seconds_used(), 9);
  rough.cam.intake_duration_050.value = rough.cam.exhaust_duration_050.value = crank_degrees(255);
  rough.cam.intake_advertised.value = rough.cam.exhaust_advertised.value = crank_degrees(310);
  const auto o = Observer::make(idle.r, rough, table, {});
  ASSERT_TRUE(o);
  EXPECT_EQ(o->seconds_used(), 0);
  ASSERT_EQ(o->set_aside().size(), 1U);
  EXPECT_NE(o->set_aside()[0].reason.find("reads lean"), std::string::npos);
  // The same cam pulling at speed burns well.
  idle.put(Quantity::rpm, 3200).put(Quantity::map, 90e3);
  EXPECT_GT(Observer::make(idle.r, rough, table, {})->seconds_used(), 9);
}

TEST(Observe, TheTargetNeedNotBeStoichiometric) {
  Steady s;
  s.put(Quantity::lambda, 0.88).put(Quantity::target, 0.80).put(Quantity::correction, 0.0);
  EXPECT_NEAR(samples_of(s, flat(0.80))[50].y, 0.0953, 1e-4);
}

TEST(Observe, PulseWidthAndMixtureGiveTheSameVeAsTheAirTheyStandFor) {
  // By hand: V_d 5.7e-3 m3, 60 kPa, 2400 rpm, 300 K, VE 0.75:
  //   air = 0.75 * 60000 * 5.7e-3 * 2400 / (120 * 287.05 * 300) = 0.0595715 kg/s
  // at lambda 0.9 of E10, the fuel is air / (0.9 AFR_st); eight injectors, one squirt a cycle each.
  const double air = 0.75 * 60000 * 5.7e-3 * 2400 / (120 * 287.05 * 300);
  EXPECT_NEAR(air, 0.0595715, 1e-6);
  const car::Injection& inj = sheet().injection;
  const double fuel = air / (0.9 * sheet().fuel.stoichiometric.value);
  const double q =
      inj.injector_flow.si() * std::sqrt(sheet().fuel.density.si() / inj.rated_density.si());
  ASSERT_EQ(inj.regulator_reference.value, car::RegulatorReference::manifold);
  const double pulse =
      fuel / (inj.injector_count.si() * inj.squirts_per_cycle.si() * q * 2400 / 120) +
      inj.dead_time.si();
  Steady s;
  s.put(Quantity::lambda, 0.9).put(Quantity::pulse_width, pulse);
  s.put(Quantity::battery, inj.dead_time_voltage.si());
  const auto samples = samples_of(s, flat(0.75));
  ASSERT_FALSE(samples.empty());
  EXPECT_NEAR(samples[50].y, 0.0, 1e-9);
}

TEST(Observe, MeteredAirGivesVeDirectly) {
  Steady s;
  s.put(Quantity::maf, 0.0595715);
  EXPECT_NEAR(samples_of(s, flat(0.50))[50].y, std::log(0.75 / 0.50), 1e-5);
}

TEST(Observe, TheVeOfATextbookEngineIsTheTextbooksVe) {
  // Mathur and Sharma, Internal Combustion Engines, ex. 10.1 (as printed): 6 cylinders x 700 cm3,
  // 3200 rpm, 27 kg/h of fuel at AFR 12, 0.9 bar, 32 degC, R 287: VE 78.16 %.
  const car::Sheet engine = *car::read_sheet(R"(
[engine]
displacement = "4.2 l"
cylinders = 6
[cam]
intake_duration_050 = "200 deg"
[injection]
injector_flow = "20 lb/h at 43.5 psi"
[fuel]
name = "petrol"
)",
                                             "textbook.toml");
  Steady s;
  s.put(Quantity::rpm, 3200).put(Quantity::map, 90e3).put(Quantity::intake_air, 305.15);
  s.put(Quantity::maf, 27.0 * 12 / 3600);
  const car::Surface table = flat(1.0);
  const auto o = Observer::make(s.r, engine, table, {});
  ASSERT_TRUE(o) << o.error().line();
  double y = NAN;
  o->each(0, 0, 0, [&](const Sample& x) { y = x.y; });
  constexpr double kRounding = 0.0007;  // the book takes R 287 and 305 K
  EXPECT_NEAR(std::exp(y), 0.7816, kRounding);
}

TEST(Observe, AGaugeOnTheFourteenSevenScaleReadsLambdaWhateverIsInTheTank) {
  // 12.5 on the 14.7 scale is lambda 0.850 with E10 in the tank too; dividing by E10's own 14.01
  // would say 0.892.
  const auto scale = car::MixtureScale::in_afr(14.7);
  ASSERT_TRUE(scale);
  EXPECT_NEAR(scale->to_lambda(12.5)->value, 0.8503, 5e-5);
  Steady s;
  s.put(Quantity::lambda, scale->to_lambda(12.5)->value);
  s.put(Quantity::target, scale->to_lambda(12.5)->value).put(Quantity::correction, 0.0);
  EXPECT_NEAR(samples_of(s, flat(0.8))[10].y, 0.0, 1e-12);
}

TEST(Observe, ShortAndLongTrimsAreFactorsThatMultiply) {
  Steady s;
  s.put(Quantity::short_trim, 0.02).put(Quantity::long_trim, 0.145);
  EXPECT_NEAR(samples_of(s, flat(1.0))[50].y, std::log(1.02 * 1.145), 1e-9);
}

TEST(Observe, AMixtureWithoutItsCorrectionIsAskedAboutNotTrusted) {
  Steady s;
  s.put(Quantity::lambda, 1.0).put(Quantity::target, 1.0);
  const auto o = Observer::make(s.r, sheet(), flat(0.8), {});
  ASSERT_FALSE(o);
  EXPECT_EQ(o.error().code, ErrorCode::needs_answer);
  ObserveOptions open;
  open.open_loop = true;
  EXPECT_EQ(samples_of(s, flat(0.8), open).size(), 100U);
}

TEST(Observe, ARecordingThatTeachesNothingIsRefusedWithWhatItLacks) {
  const Steady s;
  const auto o = Observer::make(s.r, sheet(), flat(0.8), {});
  ASSERT_FALSE(o);
  EXPECT_EQ(o.error().code, ErrorCode::not_found);
  EXPECT_NE(o.error().message.find("a mixture sensor"), std::string::npos);
}

TEST(Observe, ARowIsUsedOnceEvenIfTwoInstrumentsSpeak) {
  Steady s;
  s.put(Quantity::lambda, 1.1).put(Quantity::target, 1.0).put(Quantity::correction, 0.0);
  s.put(Quantity::maf, 0.0595715).put(Quantity::long_trim, 0.1);
  const auto o = Observer::make(s.r, sheet(), flat(0.8), {});
  ASSERT_TRUE(o);
  EXPECT_EQ(o->way(), Way::correction);
  EXPECT_EQ(samples_of(s, flat(0.8)).size(), 100U);
}

TEST(Observe, ColdRowsAndFuelCutsAreSetAsideWithTheirReason) {
  Steady s;
  s.put(Quantity::lambda, 1.0).put(Quantity::target, 1.0).put(Quantity::correction, 0.0);
  for (std::size_t i = 0; i < 20; ++i) s.values(Quantity::coolant)[i] = 300;
  s.values(Quantity::lambda)[40] = 2.5;  // fuel cut: this row and the 2 s (20 rows) after it
  const auto o = Observer::make(s.r, sheet(), flat(0.8), {});
  ASSERT_TRUE(o);
  ASSERT_EQ(o->set_aside().size(), 3U);
  EXPECT_EQ(o->set_aside()[0].reason, "engine not warm");
  EXPECT_EQ(o->set_aside()[0].rows, 20);
  EXPECT_EQ(o->set_aside()[2].reason, "just after a fuel cut");
  EXPECT_NEAR(static_cast<double>(o->set_aside()[2].rows), 20, 1);
  EXPECT_NEAR(o->seconds_total(), 10.0, 1e-9);
}

TEST(Observe, AMovingEngineIsBelievedLessThanASteadyOne) {
  Steady s;
  s.put(Quantity::lambda, 1.0).put(Quantity::target, 1.0).put(Quantity::correction, 0.0);
  for (std::size_t i = 50; i < 100; ++i) s.values(Quantity::map)[i] = 90e3;  // the throttle opens
  const auto samples = samples_of(s, flat(0.8));
  EXPECT_GT(samples[52].sd, 4 * samples[20].sd);
  EXPECT_LT(samples[90].sd, 1.1 * samples[20].sd);
}

TEST(Observe, ABlankCellBetweenPollsHoldsTheLastValueButIsNoNewReading) {
  Steady s;
  s.put(Quantity::lambda, 1.1).put(Quantity::target, 1.0).put(Quantity::correction, 0.0);
  for (std::size_t i = 0; i < 100; ++i) {
    if (i % 2 == 1) s.values(Quantity::map)[i] = NAN;
    if (i % 4 != 0) s.values(Quantity::lambda)[i] = NAN;
  }
  EXPECT_EQ(samples_of(s, flat(0.8)).size(), 25U);
}

TEST(Observe, AStuckMapTeachesNothing) {
  Steady s;
  s.put(Quantity::lambda, 1.1).put(Quantity::target, 1.0).put(Quantity::correction, 0.0);
  for (Channel& c : s.r.channels) c.constant = c.what == Quantity::map;
  const car::Surface table = flat(0.8);
  EXPECT_TRUE(Observer::make(s.r, sheet(), table, {}));  // a steady engine may hold its pressure
  for (std::size_t i = 0; i < 50; ++i) s.values(Quantity::rpm)[i] = 1200;
  const auto o = Observer::make(s.r, sheet(), table, {});
  ASSERT_FALSE(o);
  EXPECT_NE(o.error().message.find("MAP stands still"), std::string::npos);
}

TEST(Observe, AMissingValueIsNeverUsed) {
  Steady s;
  s.put(Quantity::lambda, 1.1).put(Quantity::target, 1.0).put(Quantity::correction, 0.0);
  s.values(Quantity::target).assign(100, NAN);
  EXPECT_TRUE(samples_of(s, flat(0.8)).empty());
}

}  // namespace
}  // namespace fuelwright::advice::observe_test
