#include "sim/road_drive/road_drive.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <sstream>
#include <vector>

#include "base/contract.h"
#include "sim/road_drive/internal/moments.h"

namespace fuelwright::sim {
namespace {

constexpr double kRounding = 0.002;  // a reading of 14 is written to 0.01, a target too

car::Grid usual_grid() {
  return {car::Axis::even(car::AxisKind::engine_speed, 600, 6000, 16),
          car::Axis::even(car::AxisKind::map_absolute, 20e3, 100e3, 12)};
}

using Columnar = std::map<std::string, std::vector<double>>;

Columnar read(const std::string& csv) {
  std::istringstream in(csv);
  std::string line, word;
  std::getline(in, line);
  std::vector<std::string> names;
  for (std::istringstream head(line); std::getline(head, word, ',');) names.push_back(word);
  Columnar out;
  while (std::getline(in, line)) {
    std::size_t i = 0;
    for (std::istringstream row(line); std::getline(row, word, ','); ++i) {
      out[names.at(i)].push_back(std::stod(word));
    }
    EXPECT_EQ(i, names.size());
  }
  return out;
}

/// A hot engine, a flat table against a flat truth, and a computer without tricks.
struct Bare {
  Truth truth = idealised(with_flat_ve(invent_truth(4, 5.0 * litre, 8), 0.88));
  car::Surface table = car::Surface::flat(usual_grid(), 0.80);
  DriveOptions options{.seed = 4, .minutes = 3, .coolant_at_start = celsius(90)};
  Bare() {
    options.computer.closed_loop = false;
    options.computer.tip_in = 0;
    options.computer.fuel_cut = false;
  }
  Columnar driven() const { return read(drive(truth, table, options)); }
};

TEST(RoadDrive, TheSameSeedWritesTheSameBytesAndAnotherSeedAnotherDrive) {
  const Truth t = invent_truth(6, 5.0 * litre, 8);
  const car::Surface found = table_as_found(t, usual_grid(), 6);
  const std::string once = drive(t, found, {.seed = 6, .minutes = 2});
  EXPECT_EQ(once, drive(t, found, {.seed = 6, .minutes = 2}));
  EXPECT_NE(once, drive(t, found, {.seed = 7, .minutes = 2}));
}

TEST(RoadDrive, ATruthTenPercentAboveItsTableReadsLambdaOneTenInOpenLoop) {
  // Table 0.80, truth 0.88: fuel for 0.80 of air, 0.88 of air comes: lambda / target = 0.88 / 0.80
  // = 1.10.
  const Columnar d = Bare().driven();
  for (std::size_t i = 0; i < d.at("AFR").size(); ++i) {
    ASSERT_NEAR(d.at("AFR")[i] / d.at("AFR target")[i], 1.10, kRounding) << i;
    ASSERT_EQ(d.at("Correction (%)")[i], 0) << i;
  }
}

TEST(RoadDrive, ClosedLoopBringsTheSameCarToItsTargetWithTenPercentMore) {
  Bare bare;
  bare.options.computer.closed_loop = true;
  bare.options.driver.hills = false;
  bare.options.minutes = 8;
  const Columnar d = bare.driven();
  int seen = 0;
  double steady_s = 0;
  for (std::size_t i = 0; i < d.at("AFR").size(); ++i) {
    const double map = d.at("MAP (kPa)")[i];
    steady_s = map > 28 && map < 78 && d.at("Time (s)")[i] > 15 ? steady_s + 0.05 : 0;
    if (map > 85) {
      EXPECT_EQ(d.at("Correction (%)")[i], 0);
    }
    if (steady_s < 10) continue;
    ++seen;
    EXPECT_NEAR(d.at("AFR")[i] / d.at("AFR target")[i], 1.0, 0.008) << i;
    EXPECT_NEAR(d.at("Correction (%)")[i], 10.0, 1.6)
        << i;  // the last of the target's own movement
  }
  EXPECT_GT(seen, 300);
}

TEST(RoadDrive, WithoutDynamicsEveryReadingSaysTruthOverTableAtItsPlace) {
  Bare bare;
  bare.truth = idealised(invent_truth(21, 5.0 * litre, 8));
  bare.table = table_as_found(bare.truth, usual_grid(), 21);
  bare.options.driver.pulls = 1;
  const Columnar d = bare.driven();
  double lowest = 9, highest = 0;
  for (std::size_t i = 0; i < d.at("AFR").size(); ++i) {
    const EngineSpeed n = rpm(d.at("RPM")[i]);
    const AbsolutePressure p = absolute(d.at("MAP (kPa)")[i] * kPa);
    const double ratio = true_ve(bare.truth, n, p) / bare.table.at({.speed = n, .map = p});
    ASSERT_NEAR(d.at("AFR")[i] / d.at("AFR target")[i], ratio, 1.5 * kRounding) << i;
    lowest = std::min(lowest, ratio);
    highest = std::max(highest, ratio);
  }
  EXPECT_GT(highest / lowest, 1.05);  // the drive has seen more than one value
}

TEST(RoadDrive, PulseWidthIsTheFuelOfTheTableOverTheInjectorsFlowPlusDeadTime) {
  Bare bare;
  const Columnar d = bare.driven();
  const Truth& t = bare.truth;
  for (std::size_t i = 0; i < d.at("RPM").size(); i += 7) {
    const double p = d.at("MAP (kPa)")[i] * 1e3;
    const double n = d.at("RPM")[i];
    const double intake = fahrenheit(d.at("Intake air (degF)")[i]).from_zero.si;
    const double coolant = fahrenheit(d.at("Coolant (degF)")[i]).from_zero.si;
    const double share = t.surroundings.charge_heating / (1 + n * p / 1e8);
    const double air =
        0.80 * p * t.displacement.si / (287.05 * (intake + share * (coolant - intake)));
    const double lambda = d.at("AFR target")[i] / 14.7;
    const double per_injector = air / (t.stoichiometric_ratio * lambda) / 8;
    const double dead_ms = 0.9 + 0.12 * (14 - d.at("Battery (V)")[i]);
    const double expected_ms = 1e3 * per_injector / t.injection.stated_flow.si + dead_ms;
    EXPECT_NEAR(d.at("Pulse width (ms)")[i], expected_ms, 0.004 * expected_ms + 0.002) << i;
  }
}

TEST(RoadDrive, TheGaugesConstantScalesTheReadingAndTheFuelInTheTankDoesNot) {
  Bare bare;
  const Columnar petrol = bare.driven();
  bare.truth.stoichiometric_ratio =
      9.8;  // an injector large enough for both: only dead time and flow see it
  bare.truth.injection.stated_flow = 1.6 * bare.truth.injection.stated_flow;
  const Columnar alcohol = bare.driven();
  bare.options.gauge_constant = 14.1;
  const Columnar other = bare.driven();
  for (std::size_t i = 0; i < petrol.at("AFR").size(); i += 11) {
    EXPECT_NEAR(alcohol.at("AFR")[i], petrol.at("AFR")[i], 0.011);
    EXPECT_NEAR(other.at("AFR")[i] / alcohol.at("AFR")[i], 14.1 / 14.7, 0.001);
  }
}

TEST(RoadDrive, AnInjectorThatFlowsFivePercentLessReadsFivePercentLean) {
  Bare bare;
  bare.table = car::Surface::flat(usual_grid(), 0.88);
  bare.truth.injection.flow_error = -0.05;
  const Columnar d = bare.driven();
  for (std::size_t i = 0; i < d.at("AFR").size(); i += 13) {
    EXPECT_NEAR(d.at("AFR")[i] / d.at("AFR target")[i], 1 / 0.95, kRounding);
  }
}

TEST(RoadDrive, ALongerDeadTimeReadsLeanMostAtLightLoad) {
  Bare bare;
  bare.table = car::Surface::flat(usual_grid(), 0.88);
  bare.truth.injection.dead_time_error = 0.1 * ms;
  const Columnar d = bare.driven();
  for (std::size_t i = 0; i < d.at("AFR").size(); i += 13) {
    const double open_ms = d.at("Pulse width (ms)")[i] - 0.9 - 0.12 * (14 - d.at("Battery (V)")[i]);
    EXPECT_NEAR(d.at("AFR")[i] / d.at("AFR target")[i], open_ms / (open_ms - 0.1), 1.5 * kRounding);
  }
}

TEST(RoadDrive, WallFilmReadsLeanOnTipInAndRichOnLift) {
  Bare bare;
  bare.table = car::Surface::flat(usual_grid(), 0.88);
  bare.truth.film = {.share = 0.3, .evaporation_time = 0.6 * second};
  bare.options.minutes = 10;
  const Columnar d = bare.driven();
  double rising = 0, falling = 0;
  int rises = 0, falls = 0;
  for (std::size_t i = 4; i < d.at("AFR").size(); ++i) {
    const double slope = (d.at("MAP (kPa)")[i] - d.at("MAP (kPa)")[i - 4]) / 0.2;  // kPa/s
    const double error = d.at("AFR")[i] / d.at("AFR target")[i] - 1;
    if (slope > 40) rising += error, ++rises;
    if (slope < -40) falling += error, ++falls;
  }
  ASSERT_GT(rises, 50);
  ASSERT_GT(falls, 50);
  EXPECT_GT(rising / rises, 0.02);
  EXPECT_LT(falling / falls, -0.02);
}

TEST(RoadDrive, MeteredAirIsTheAirOfTheTruthTimesTheMetersGain) {
  Bare bare;
  bare.options.columns.metered_air = true;
  const Columnar right = bare.driven();
  bare.truth.surroundings.meter_gain_error = 0.05;
  const Columnar wrong = bare.driven();
  for (std::size_t i = 0; i < right.at("MAF (g/s)").size(); i += 9) {
    const double fuel_air = right.at("MAF (g/s)")[i];
    EXPECT_NEAR(wrong.at("MAF (g/s)")[i] / fuel_air, 1.05, 0.002);
    // What the injectors deliver, times the mixture read, is the air.
    const double open_s =
        1e-3 * (right.at("Pulse width (ms)")[i] - 0.9 - 0.12 * (14 - right.at("Battery (V)")[i]));
    const double fuel = 8 * bare.truth.injection.stated_flow.si * open_s * right.at("RPM")[i] / 120;
    const double air = fuel * bare.truth.stoichiometric_ratio * right.at("AFR")[i] / 14.7;
    EXPECT_NEAR(1e3 * air, fuel_air, 0.006 * fuel_air);
  }
}

TEST(RoadDrive, FuelInjectedIsFuelBurntPlusFuelLostColdPlusThePuddle) {
  const Truth t = invent_truth(12, 5.0 * litre, 8);
  const car::Surface found = table_as_found(t, usual_grid(), 12);
  const DriveOptions options{.seed = 12, .minutes = 5};
  DriveAtWork work(t, found, options);
  work.step(0.01);
  const double before = work.puddle_kg();
  double injected = 0, burnt = 0, lost = 0;
  for (int i = 0; i < 30000; ++i) {
    work.step(0.01);
    injected += work.masses().injected_kg;
    burnt += work.masses().into_cylinders_kg - work.masses().lost_kg;
    lost += work.masses().lost_kg;
  }
  EXPECT_GT(injected, 0.1);  // five minutes burn more than 100 g
  EXPECT_GT(lost, 0.0);
  EXPECT_NEAR(injected, burnt + lost + work.puddle_kg() - before, 1e-11 * injected);
}

TEST(RoadDrive, AFuelCutIsReadAsManyRevolutionsLaterAsTheTruthSays) {
  Bare bare;
  bare.options.computer.fuel_cut = true;
  bare.truth.sensor.revolutions = 4;
  DriveAtWork work(bare.truth, bare.table, bare.options);
  constexpr double kOneStep = 0.9;  // revolutions in 0.01 s at 5000 rpm, rounded up
  double since_cut = 0;
  int cuts = 0;
  bool waiting = false, fuelled = true;
  for (int i = 0; i < 18000; ++i) {
    const Row row = work.step(0.01);
    const bool cut = row.pulse_width_s <= 0;
    if (cut && fuelled) waiting = true, since_cut = 0;
    if (!cut) waiting = false;
    fuelled = !cut;
    if (waiting && row.lambda > 1.5) {
      EXPECT_NEAR(since_cut, 4, kOneStep);
      waiting = false;
      ++cuts;
    }
    since_cut += row.rpm / 60 * 0.01;
  }
  EXPECT_GT(cuts, 2);
}

TEST(RoadDrive, WithTheClutchShutEachGearHoldsOneRatioOfEngineToRoadSpeed) {
  const Truth t = invent_truth(9, 5.0 * litre, 8);
  const car::Surface found = table_as_found(t, usual_grid(), 9);
  const DriveOptions options{.seed = 9, .minutes = 10};
  DriveAtWork work(t, found, options);
  std::array<int, 5> seconds{};
  for (int i = 0; i < 60000; ++i) {
    work.step(0.01);
    const Motion& m = work.motion();
    if (!m.clutch_shut || m.speed_m_s < 3) continue;
    // rpm = speed / tyre radius * gear * axle * 60 / (2 pi); the car has moved one step since.
    const double expected = m.speed_m_s / t.vehicle.tyre_radius.si * t.vehicle.gears.at(m.gear) *
                            t.vehicle.axle * 60 / (2 * M_PI);
    ASSERT_NEAR(m.rpm / expected, 1.0, 0.012) << i;  // 3 m/s and 3 m/s2 for 0.01 s
    ++seconds[m.gear];
  }
  for (const int s : seconds) EXPECT_GT(s, 100);  // a second or more in every gear
}

TEST(RoadDrive, ReadingsArePlausibleForSmallAndLargeEngines) {
  for (const auto& [litres, cylinders] :
       std::vector<std::pair<double, int>>{{1.2, 4}, {2.5, 6}, {5.7, 8}}) {
    for (std::uint64_t seed = 1; seed <= 2; ++seed) {
      const Truth t = invent_truth(seed, litres * litre, cylinders);
      const Columnar d = read(drive(t, table_as_found(t, usual_grid(), seed), {.seed = seed}));
      ASSERT_EQ(d.at("Time (s)").size(), 12000u);
      int idle = 0, cruise = 0, overrun = 0;
      for (std::size_t i = 0; i < 12000; ++i) {
        const double n = d.at("RPM")[i], p = d.at("MAP (kPa)")[i];
        if (i > 0) {
          ASSERT_GT(d.at("Time (s)")[i], d.at("Time (s)")[i - 1]);
        }
        ASSERT_GT(n, 550);
        ASSERT_LT(n, t.vehicle.redline.rpm + 150);
        ASSERT_GT(p, 17);
        ASSERT_LT(p, 103);
        ASSERT_GE(d.at("AFR")[i], 9.5);
        ASSERT_LE(d.at("AFR")[i], 22.8);
        ASSERT_LE(std::abs(d.at("Correction (%)")[i]), 20.0);
        ASSERT_LT(d.at("Pulse width (ms)")[i], 120e3 / n);
        const double mph = d.at("Speed (mph)")[i], throttle = d.at("Throttle (%)")[i];
        const bool warm = d.at("Coolant (degF)")[i] > 150;
        if (warm && mph < 0.05 && n < 1.05 * t.vehicle.idle.rpm && ++idle) {
          ASSERT_TRUE(p > 28 && p < 65) << p;
        }
        if (throttle >= 99.9) {
          ASSERT_GT(p, 94);
        }
        if (throttle <= 0 && n > 1500 && ++overrun) {
          ASSERT_TRUE(p > 18 && p < 28) << p;
        }
        cruise += p > 35 && p < 70 && mph > 25;
      }
      EXPECT_GT(cruise, 1000) << litres << " l, seed " << seed;
      EXPECT_GT(overrun, 100);
    }
  }
}

TEST(RoadDrive, TheEngineWarmsUpAndItsExtraFuelGoes) {
  const Truth t = invent_truth(3, 5.0 * litre, 8);
  DriveOptions options{.seed = 3, .minutes = 10};
  options.columns.warm_up = true;
  const Columnar d = read(drive(t, table_as_found(t, usual_grid(), 3), options));
  EXPECT_NEAR(d.at("Coolant (degF)").front(), 68, 0.1);
  EXPECT_GT(d.at("Coolant (degF)").back(), 180);
  EXPECT_NEAR(d.at("Warm-up (%)").front(), 22.0, 0.1);
  for (std::size_t i = 0; i < d.at("RPM").size(); ++i) {
    if (d.at("Coolant (degF)")[i] > 168) {
      EXPECT_EQ(d.at("Warm-up (%)")[i], 0);
    }
    if (d.at("Coolant (degF)")[i] < 138) {
      EXPECT_EQ(d.at("Correction (%)")[i], 0);
    }  // open loop while cold
  }
}

TEST(RoadDrive, OnTheOverrunFuelIsCutAndTheReadingGoesToItsLeanStop) {
  const Truth t = invent_truth(5, 5.0 * litre, 8);
  const Columnar d = read(drive(t, table_as_found(t, usual_grid(), 5), {.seed = 5}));
  int cut = 0, at_stop = 0;
  for (std::size_t i = 40; i < d.at("RPM").size(); ++i) {
    const auto pulse = d.at("Pulse width (ms)").begin() + static_cast<long>(i);
    if (*std::max_element(pulse - 40, pulse + 1) > 0) continue;  // two seconds without fuel
    ++cut;
    at_stop += d.at("AFR")[i] > 22.7;
    EXPECT_LE(d.at("Throttle (%)")[i], 0.5);
    EXPECT_GT(d.at("RPM")[i], 1150);
  }
  EXPECT_GT(cut, 50);
  EXPECT_GT(at_stop, 0.95 * cut);
}

TEST(RoadDrive, APullGoesToTheRedlineAndWithoutOneTheEngineIsSpared) {
  const Truth t = invent_truth(2, 5.0 * litre, 8);
  const car::Surface found = table_as_found(t, usual_grid(), 2);
  DriveOptions options{.seed = 2, .minutes = 12};
  const auto fastest = [&] {
    const Columnar d = read(drive(t, found, options));
    return *std::max_element(d.at("RPM").begin(), d.at("RPM").end());
  };
  EXPECT_LT(fastest(), 0.92 * t.vehicle.redline.rpm);
  options.driver.pulls = 2;
  EXPECT_GT(fastest(), 0.96 * t.vehicle.redline.rpm);
}

TEST(RoadDrive, ColumnsAreWrittenAsAskedAndTheDriveIsTheSameWithoutThem) {
  const Truth t = invent_truth(2, 5.0 * litre, 8);
  const car::Surface found = table_as_found(t, usual_grid(), 2);
  DriveOptions options{.seed = 2, .minutes = 1, .rows_per_second = 10};
  const std::string full = drive(t, found, options);
  EXPECT_EQ(full.substr(0, full.find('\n')),
            "Time (s),RPM,MAP (kPa),Throttle (%),Coolant (degF),Intake air (degF),AFR,AFR target,"
            "Correction (%),Pulse width (ms),Battery (V),Speed (mph)");
  options.columns = {.correction = false, .pulse_width = false, .metered_air = true};
  const Columnar some = read(drive(t, found, options));
  const Columnar all = read(full);
  EXPECT_EQ(some.size(), 11u);
  EXPECT_EQ(some.count("Pulse width (ms)"), 0u);
  EXPECT_EQ(some.count("MAF (g/s)"), 1u);
  EXPECT_EQ(some.at("AFR"), all.at("AFR"));
  EXPECT_EQ(some.at("Time (s)").size(), 600u);
  EXPECT_NEAR(some.at("Time (s)").back(), 59.9, 1e-9);
}

TEST(RoadDrive, ATableOverVacuumDrivesLikeTheSameTableOverPressure) {
  Bare bare;
  const double ambient = bare.truth.surroundings.ambient.from_zero.si;
  const car::Axis speeds = car::Axis::even(car::AxisKind::engine_speed, 600, 6000, 10);
  const car::Axis maps = car::Axis::even(car::AxisKind::map_absolute, ambient - 80e3, ambient, 9);
  const car::Axis vacuums = car::Axis::even(car::AxisKind::vacuum, 0, 80e3, 9);
  bare.table = car::Surface::flat({speeds, maps}, 0);
  for (std::size_t iy = 0; iy < 9; ++iy) {
    for (std::size_t ix = 0; ix < 10; ++ix)
      bare.table.node(ix, iy) = 0.7 + 0.01 * static_cast<double>(ix + iy);
  }
  const Columnar over_pressure = bare.driven();
  car::Surface turned = car::Surface::flat({speeds, vacuums}, 0);
  for (std::size_t iy = 0; iy < 9; ++iy) {
    for (std::size_t ix = 0; ix < 10; ++ix) turned.node(ix, iy) = bare.table.node(ix, 8 - iy);
  }
  bare.table = turned;
  const Columnar over_vacuum = bare.driven();
  for (std::size_t i = 0; i < over_vacuum.at("AFR").size(); ++i) {
    EXPECT_NEAR(over_vacuum.at("AFR")[i], over_pressure.at("AFR")[i], 0.011);
  }
}

TEST(RoadDrive, OptionsThatCannotBeAreABrokenContract) {
  const Truth t = invent_truth(1, 5.0 * litre, 8);
  const car::Surface table = car::Surface::flat(usual_grid(), 0.8);
  EXPECT_THROW(drive(t, table, {.minutes = 0}), Bug);
  EXPECT_THROW(drive(t, table, {.rows_per_second = 0.1}), Bug);
}

}  // namespace
}  // namespace fuelwright::sim
