#include "sim/virtual_car/virtual_car.h"

#include <cmath>
#include <numeric>

#include "car/build/derived.h"
#include "signals/recording/recording.h"
#include "sim/virtual_car/internal/car_at_work.h"
#include "sim/virtual_car/test_car.h"

namespace fuelwright::sim::virtual_car::virtual_car_test {
namespace {

std::size_t rows_of(const std::string& csv) {
  return static_cast<std::size_t>(std::count(csv.begin(), csv.end(), '\n')) - 1;
}

signals::Recording read(const std::string& csv) {
  signals::Answers answers;
  answers.afr_constant = 14.7;
  auto recording = signals::read_recording(csv, "drive.csv", answers);
  EXPECT_TRUE(recording.ok()) << (recording.ok() ? "" : recording.error().line());
  return *recording;
}

double last_lambda(const std::vector<TrueMoment>& truth, double seconds) {
  double sum = 0;
  int n = 0;
  for (const TrueMoment& m : truth) {
    if (m.time < truth.back().time - seconds * second) continue;
    sum += m.lambda;
    ++n;
  }
  return sum / n;
}

double mean(const std::vector<double>& v) {
  return std::accumulate(v.begin(), v.end(), 0.0) / static_cast<double>(v.size());
}

TEST(VirtualCar, TheSameSeedGivesTheSameBytesAndAnotherSeedOthers) {
  const car::Sheet sheet = test_sheet();
  const Truth truth = test_truth(sheet);
  const Cycle cycle = steps_of({12, 0}, 20);
  const Drive a = driven(truth, sheet, {.task = cycle, .seed = 4});
  const Drive b = driven(truth, sheet, {.task = cycle, .seed = 4});
  const Drive c = driven(truth, sheet, {.task = cycle, .seed = 5});
  EXPECT_EQ(a.recording, b.recording);
  EXPECT_NE(a.recording, c.recording);
}

TEST(VirtualCar, ItsRecordingIsReadAsThatOfARealCar) {
  const car::Sheet sheet = test_sheet();
  const Drive drive = driven(test_truth(sheet), sheet, {.task = steps_of({15, 8, 20, 0}, 20)});
  const signals::Recording r = read(drive.recording);
  EXPECT_EQ(r.rows, drive.truth.size());
  using Q = signals::Quantity;
  for (const Q q : {Q::time, Q::rpm, Q::map, Q::throttle, Q::coolant, Q::intake_air, Q::lambda,
                    Q::target, Q::correction, Q::warm_up, Q::pulse_width, Q::maf, Q::battery,
                    Q::fuel_pressure, Q::speed}) {
    EXPECT_TRUE(q == Q::time || r.find(q) != nullptr) << static_cast<int>(q);
  }
  const double rounding_rpm = 0.51;
  for (std::size_t i = 0; i < r.rows; i += 37) {
    EXPECT_NEAR(r.find(Q::rpm)->si[i], drive.truth[i].speed.rpm, rounding_rpm);
    EXPECT_NEAR(r.find(Q::speed)->si[i], drive.truth[i].road.si, 0.03);
    EXPECT_NEAR(r.find(Q::map)->si[i], drive.truth[i].map.from_zero.si, 8e3);  // its filter lags
  }
}

TEST(VirtualCar, FuelIsConservedOverADrive) {
  const car::Sheet sheet = test_sheet();
  const Truth truth = test_truth(sheet);
  const car::Calibration found = calibration_as_found(truth, sheet, 1);
  const DriveRequest request{.task = steps_of({15, 0}, 15)};
  CarAtWork car(truth, sheet, found, request);
  car.step();
  const double film = car.film().mass_kg(), injected = car.injected_kg(),
               into = car.into_cylinders_kg();
  for (int i = 0; i < 8000; ++i) car.step();
  EXPECT_NEAR(car.injected_kg() - injected,
              car.into_cylinders_kg() - into + car.film().mass_kg() - film,
              1e-12);  // rounding of some 50 g
}

TEST(VirtualCar, TheDriverFollowsAGentleCycleWithinTwoMilesPerHour) {
  const car::Sheet sheet = test_sheet();
  for (const char* gearbox : {"false", "true"}) {
    const Truth truth = test_truth(sheet, std::string("[vehicle]\nautomatic = ") + gearbox + "\n");
    const Drive drive = driven(truth, sheet, {.task = steps_of({12, 5, 22, 14, 0, 18, 0}, 20)});
    EXPECT_GT(drive.within_tolerance, 0.98) << gearbox;
    const double asked = drive.truth.back().time.si;
    EXPECT_GT(drive.distance.si, 5 * asked) << gearbox;
  }
}

TEST(VirtualCar, ClosedLoopHoldsItsTargetWhereTheTableIsWrong) {
  const car::Sheet sheet = test_sheet();
  const Truth truth = test_truth(sheet, kQuiet);
  car::Calibration wrong;
  car::Surface ve = true_table(truth, car::table_grid(sheet));
  for (double& v : ve.values) v *= 0.85;
  wrong.tables.emplace(car::TableWhat::ve, ve);
  wrong.tables.emplace(car::TableWhat::lambda_target, car::Surface::flat(ve.grid, 1.0));
  wrong.settings[car::SettingWhat::closed_loop_add] = 0.25;
  wrong.settings[car::SettingWhat::closed_loop_take] = 0.25;
  const DriveRequest request{.task = steps_of({15}, 60), .keep_truth = true};
  const auto closed = drive_car(truth, sheet, wrong, request);
  ASSERT_TRUE(closed.ok());
  EXPECT_NEAR(last_lambda(closed->truth, 15), 1.0, 0.01);
  EXPECT_GT(closed->truth.back().correction, 0.05);
  wrong.settings[car::SettingWhat::closed_loop_add] = 0.03;  // reaches its limit
  const auto limited = drive_car(truth, sheet, wrong, request);
  ASSERT_TRUE(limited.ok());
  EXPECT_DOUBLE_EQ(limited->truth.back().correction, 0.03);
  EXPECT_GT(last_lambda(limited->truth, 15), 1.04);
}

TEST(VirtualCar, ATrueTableAndTrueInjectorsGiveTheMixtureAskedFor) {
  const car::Sheet sheet = test_sheet();
  const std::string stated = kQuiet + "[computer]\ncorrection_gain = 0\n" + "[engine]\n";
  Truth truth = test_truth(sheet, stated);
  truth.air.heating = 0;
  truth.air.level = 1;
  truth.weather.humidity = 0;
  truth.fuel.flow =
      MassFlow{sheet.injection.injector_flow.value.si *
               std::sqrt(sheet.fuel.density.value / sheet.injection.rated_density.value)};
  truth.fuel.dead_time = Duration{sheet.injection.dead_time.value.si -
                                  0.11e-3 * (14 - sheet.injection.dead_time_voltage.value.si)};
  truth.fuel.dead_time_per_volt = 0.11 * ms;
  truth.fuel.dead_time_curvature = 0;
  truth.fuel.regulator = sheet.injection.regulator_pressure.value;
  truth.fuel.flow_pressure = sheet.injection.injector_pressure.value;
  truth.fuel.droop = 0;
  truth.fuel.stoichiometric = sheet.fuel.stoichiometric.value;
  truth.engine.displacement = sheet.engine.displacement.value;
  car::Calibration right;
  right.tables.emplace(car::TableWhat::ve, true_table(truth, car::table_grid(sheet)));
  right.settings[car::SettingWhat::closed_loop_add] = 0;
  right.settings[car::SettingWhat::closed_loop_take] = 0;
  const auto drive =
      drive_car(truth, sheet, right, {.task = steps_of({12, 20}, 40), .keep_truth = true});
  ASSERT_TRUE(drive.ok());
  std::vector<double> off;
  for (const TrueMoment& m : drive->truth) {
    const bool steady =
        m.time.si > 60 && m.wanted.si > 1 && std::abs(m.wanted.si - m.road.si) < 0.1;
    if (steady && !m.cut) off.push_back(m.lambda / m.lambda_target - 1);
  }
  ASSERT_GT(off.size(), 400u);
  EXPECT_NEAR(mean(off), 0, 0.01);  // corners of a coarse table, converter steps, dead time per kPa
}

TEST(VirtualCar, FuelIsCutOnTheOverrunAndAtTheRevLimit) {
  const car::Sheet sheet = test_sheet();
  const Truth truth = test_truth(sheet, kQuiet);
  car::Calibration found = calibration_as_found(truth, sheet, 1);
  found.settings[car::SettingWhat::hard_rev_limit] = 4200;
  const car::Plan plan{{car::sweep(rpm(2200), rpm(4800), 2), car::coast(rpm(4000), rpm(2000), 2),
                        car::idle_for(5.0 * second)}};
  const auto drive =
      drive_car(truth, sheet, found, {.task = plan, .length = 200.0 * second, .keep_truth = true});
  ASSERT_TRUE(drive.ok()) << drive.error().line();
  double fastest = 0;
  bool overrun = false, limited = false;
  for (const TrueMoment& m : drive->truth) {
    fastest = std::max(fastest, m.speed.rpm);
    overrun = overrun || (m.cut && m.map < absolute(35.0 * kPa) && m.injected.si == 0);
    limited = limited || (m.cut && m.map > absolute(85.0 * kPa));
  }
  EXPECT_TRUE(overrun);
  EXPECT_TRUE(limited);
  EXPECT_LT(fastest, 4350);
  EXPECT_GT(fastest, 4150);
}

TEST(VirtualCar, APlanIsDrivenStepByStepAndEnds) {
  const car::Sheet sheet = test_sheet();
  const Truth truth = test_truth(sheet);
  const car::Plan plan{{car::idle_for(8.0 * second), car::hold_at(rpm(2500), 3, 10.0 * second),
                        car::sweep(rpm(1800), rpm(3800), 3, absolute(70.0 * kPa))}};
  const Drive drive = driven(truth, sheet, {.task = plan, .length = 300.0 * second});
  EXPECT_LT(drive.truth.back().time.si, 290);  // it ended by itself
  double idling = 0, holding = 0;
  std::vector<double> sweep_kpa;
  for (const TrueMoment& m : drive.truth) {
    idling += m.road.si < 0.1 ? 0.05 : 0;
    holding += std::abs(m.speed.rpm - 2500) < 60 ? 0.05 : 0;
    if (m.wanted.si < 0 && m.speed.rpm > 2300 && m.speed.rpm < 3700) {
      sweep_kpa.push_back(m.map.from_zero.in(kPa));
    }
  }
  EXPECT_GE(idling, 8);
  EXPECT_GE(holding, 8.5);  // within 60 rpm of it nearly all the time
  ASSERT_GT(sweep_kpa.size(), 20u);
  EXPECT_NEAR(mean(sweep_kpa), 70, 4);
}

TEST(VirtualCar, OnADynoTheSpeedStaysWhileTheFootKeepsAnyPressure) {
  const car::Sheet sheet = test_sheet();
  const Truth truth = test_truth(sheet);
  car::Plan plan;
  for (const double load : {45.0, 65.0, 85.0}) {
    plan.steps.push_back(car::hold_at(rpm(2800), 4, 12.0 * second, absolute(load * kPa)));
  }
  const Drive drive = driven(truth, sheet, {.task = plan, .length = 400.0 * second});
  EXPECT_TRUE(drive.cut_short.empty());
  for (const double load : {45.0, 65.0, 85.0}) {
    double seconds = 0;
    for (const TrueMoment& m : drive.truth) {
      const bool at = std::abs(m.map.from_zero.in(kPa)-load) < 3;
      seconds += at && std::abs(m.speed.rpm - 2800) < 60 ? 0.05 : 0;
    }
    EXPECT_GE(seconds, 8) << load;
  }
}

TEST(VirtualCar, EasingOffTheCarSlowsDownWhileTheFootKeepsALowPressure) {
  const car::Sheet sheet = test_sheet();
  const Truth truth = test_truth(sheet);
  const car::Plan plan{{car::sweep(rpm(3000), rpm(1500), 4, absolute(30.0 * kPa))}};
  const Drive drive = driven(truth, sheet, {.task = plan, .length = 300.0 * second});
  EXPECT_TRUE(drive.cut_short.empty());
  std::vector<double> kpa;
  bool slower = true;
  double last = 1e9;
  for (const TrueMoment& m : drive.truth) {
    if (m.wanted.si >= 0 || m.speed.rpm > 2800 || m.speed.rpm < 1600) continue;
    kpa.push_back(m.map.from_zero.in(kPa));
    slower = slower && m.speed.rpm < last + 20;
    last = m.speed.rpm;
  }
  ASSERT_GT(kpa.size(), 40U);
  EXPECT_NEAR(mean(kpa), 30, 3);
  EXPECT_TRUE(slower);
}

TEST(VirtualCar, AFootOnADynoErrsAsOnTheRoad) {
  const car::Sheet sheet = test_sheet();
  const car::Plan plan{{car::hold_at(rpm(2800), 4, 40.0 * second, absolute(60.0 * kPa))}};
  const auto spread_kpa = [&](double unsteadiness) {
    Truth truth = test_truth(sheet);
    truth.driver.unsteadiness = unsteadiness;
    const Drive drive = driven(truth, sheet, {.task = plan, .length = 200.0 * second});
    std::vector<double> off;
    for (const TrueMoment& m : drive.truth) {
      if (m.time.si < drive.truth.back().time.si - 30) continue;
      off.push_back(std::pow(m.map.from_zero.in(kPa)-60, 2));
    }
    return std::sqrt(mean(off));
  };
  const double usual = spread_kpa(0.05);
  EXPECT_GT(usual, 0.6);  // 1 % at the least
  EXPECT_LT(usual, 3.0);  // 5 %
  EXPECT_LT(spread_kpa(0), 0.5 * usual);
}

TEST(VirtualCar, ADynoHoldsTheEngineSpeedOfAnAutomaticWhateverItsConverterSlips) {
  const car::Sheet sheet = test_sheet();
  Truth truth = test_truth(sheet);
  truth.vehicle.automatic = true;
  const car::Plan plan{{car::hold_at(rpm(2800), 3, 12.0 * second, absolute(45.0 * kPa)),
                        car::hold_at(rpm(2800), 3, 12.0 * second, absolute(70.0 * kPa))}};
  const Drive drive = driven(truth, sheet, {.task = plan, .length = 300.0 * second});
  EXPECT_TRUE(drive.cut_short.empty());
  double seconds = 0;
  for (const TrueMoment& m : drive.truth) {
    const bool at = std::abs(m.map.from_zero.in(kPa)-70) < 4;
    seconds += at && std::abs(m.speed.rpm - 2800) < 80 ? 0.05 : 0;
  }
  EXPECT_GE(seconds, 8);
}

// A brake takes up and cannot push: less than turning the rollers asks is not held, and that is
// said.
TEST(VirtualCar, APressureTooLowToTurnTheRollersIsNotHeld) {
  const car::Sheet sheet = test_sheet();
  const Truth truth = test_truth(sheet);
  const car::Plan plan{{car::hold_at(rpm(2800), 4, 8.0 * second, absolute(18.0 * kPa))}};
  const Drive drive = driven(truth, sheet, {.task = plan, .length = 300.0 * second});
  EXPECT_EQ(drive.cut_short, std::vector<int>{1});
}

TEST(VirtualCar, StepsThatWereNotDrivenToTheirEndAreNamed) {
  const car::Sheet sheet = test_sheet();
  const Truth truth = test_truth(sheet);
  const car::Plan plan{{car::idle_for(5.0 * second), car::sweep(rpm(2000), rpm(12000), 2),
                        car::sweep(rpm(2000), rpm(4000), 2), car::idle_for(5.0 * second)}};
  const Drive drive = driven(truth, sheet, {.task = plan, .length = 300.0 * second});
  EXPECT_EQ(drive.cut_short, std::vector<int>{2});  // the rev limit comes first
  const Drive ended = driven(truth, sheet, {.task = plan, .length = 8.0 * second});
  EXPECT_EQ(ended.cut_short, (std::vector<int>{2, 3, 4}));
}

TEST(VirtualCar, ASoftRevLimitSlowsAPullBeforeTheHardOneCutsIt) {
  const car::Sheet sheet = test_sheet();
  const Truth truth = test_truth(sheet, kQuiet);
  car::Calibration found = calibration_as_found(truth, sheet, 1);
  found.settings[car::SettingWhat::hard_rev_limit] = 4600;
  const auto seconds_to_the_limit = [&](double soft) {
    found.settings[car::SettingWhat::soft_rev_limit] = soft;
    const car::Plan plan{{car::sweep(rpm(2200), rpm(4500), 2)}};
    const auto drive = drive_car(truth, sheet, found,
                                 {.task = plan, .length = 200.0 * second, .keep_truth = true});
    EXPECT_TRUE(drive.ok() && drive->cut_short.empty());
    double from = 0, until = 0;
    for (const TrueMoment& m : drive->truth) {
      if (m.speed < rpm(4000)) from = m.time.si;
      if (m.speed < rpm(4480)) until = m.time.si;
    }
    return until - from;
  };
  EXPECT_GT(seconds_to_the_limit(4000), 1.25 * seconds_to_the_limit(4600));
}

TEST(VirtualCar, AfterAPullTheCarIsBroughtToRest) {
  const car::Sheet sheet = test_sheet();
  const Truth truth = test_truth(sheet);
  const car::Plan plan{{car::sweep(rpm(2000), rpm(5000), 2), car::idle_for(5.0 * second)}};
  const Drive drive = driven(truth, sheet, {.task = plan, .length = 200.0 * second});
  EXPECT_LT(drive.truth.back().time.si, 120);
  EXPECT_LT(drive.truth.back().road.si, 0.2);
  double fastest = 0;
  for (const TrueMoment& m : drive.truth) fastest = std::max(fastest, m.road.si);
  EXPECT_LT(fastest, 25);  // 5000 rpm in second gear
}

TEST(VirtualCar, ABigCamsDilutionMisfireReadsLeanAtIdle) {
  const car::Sheet sheet = test_sheet();
  const Cycle standing{{0, 60}, {0, 0}};
  const auto read_less_true = [&](const char* limit) {
    const Truth truth =
        test_truth(sheet, "[sensor]\nnoise = 0\ndrift = 0\ndilution_limit = " + std::string(limit) +
                              "\n[vehicle]\ncoolant_at_start_degc = 88\n");
    const Drive drive = driven(truth, sheet, {.task = standing});
    const signals::Recording r = read(drive.recording);
    std::vector<double> off;
    for (std::size_t i = 800; i < r.rows; ++i) {
      off.push_back(r.find(signals::Quantity::lambda)->si[i] / drive.truth[i].lambda - 1);
    }
    return mean(off);
  };
  EXPECT_GT(read_less_true("0.24"), read_less_true("0.9") + 0.03);
}

TEST(VirtualCar, ChannelsLeftOutAreNotThereAndPolledOnesAreRenewedInTurn) {
  const car::Sheet sheet = test_sheet();
  const Truth truth = test_truth(sheet,
                                 "[recorder]\nmissing = [\"maf\", \"correction\"]\npolled_in_rows "
                                 "= 5\nrows_per_second = 10\n");
  const Drive drive = driven(truth, sheet, {.task = steps_of({15, 6, 18, 4}, 15)});
  EXPECT_EQ(drive.recording.find("MAF"), std::string::npos);
  EXPECT_EQ(drive.recording.find("Correction"), std::string::npos);
  const signals::Recording r = read(drive.recording);
  EXPECT_EQ(r.simultaneity, signals::Simultaneity::polled_in_turn) << r.simultaneity_reason;
  EXPECT_NEAR(static_cast<double>(rows_of(drive.recording)), 10 * drive.truth.back().time.si, 2);
}

TEST(VirtualCar, TwoBanksWithASensorEachAreTwoColumns) {
  const car::Sheet sheet = test_sheet();
  const Truth truth = test_truth(
      sheet,
      "[engine]\nbanks = 2\n[sensor]\nfitted = 2\n[fuel]\ncylinders = [1.1, 0.9, 1.1, 0.9]\n");
  const Drive drive = driven(truth, sheet, {.task = steps_of({15}, 30)});
  const signals::Recording r = read(drive.recording);
  const auto* first = r.find(signals::Quantity::lambda, 1);
  const auto* other = r.find(signals::Quantity::lambda, 2);
  ASSERT_NE(first, nullptr);
  ASSERT_NE(other, nullptr);
  // The first bank has 22 % more fuel than the second: 1.1 to 0.9.
  EXPECT_NEAR(other->si.back() / first->si.back(), 1.1 / 0.9, 0.06);
}

TEST(VirtualCar, AUnitThatCorrectsItselfMovesItsOwnTable) {
  const car::Sheet sheet = test_sheet();
  const Truth truth = test_truth(sheet, kQuiet + "[computer]\nself_correction_per_min = 6\n");
  car::Calibration wrong;
  car::Surface ve = true_table(truth, car::table_grid(sheet));
  for (double& v : ve.values) v *= 0.9;
  wrong.tables.emplace(car::TableWhat::ve, ve);
  wrong.tables.emplace(car::TableWhat::lambda_target, car::Surface::flat(ve.grid, 1.0));
  const auto drive =
      drive_car(truth, sheet, wrong, {.task = steps_of({15}, 120), .keep_truth = true});
  ASSERT_TRUE(drive.ok());
  ASSERT_TRUE(drive->learned.has_value());
  EXPECT_GT(*std::ranges::max_element(drive->learned->values), 1.05);
  EXPECT_NEAR(last_lambda(drive->truth, 15), 1, 0.01);
  EXPECT_LT(std::abs(drive->truth.back().correction), 0.05);
}

TEST(VirtualCar, ATableOverThrottleDrivesTheCarToo) {
  const car::Sheet sheet = test_sheet(
      "[wishes]\nload_axis = \"throttle\"\n"
      "speed_points = { values = [600, 1000, 1500, 2000, 2500, 3000, 4000, 5000, 6000], unit = "
      "\"rpm\" }\nload_points = { values = [0, 4, 8, 12, 16, 22, 30, 45, 70, 100], unit = \"%\" "
      "}\n");
  const Truth truth = test_truth(sheet, kQuiet);
  const Drive drive = driven(truth, sheet, {.task = steps_of({12, 18}, 40)});
  EXPECT_GT(drive.within_tolerance, 0.95);
  EXPECT_NEAR(last_lambda(drive.truth, 15), drive.truth.back().lambda_target, 0.15);
}

TEST(VirtualCar, WithoutAirOrTableItAsksAndRefusesALengthThatCannotBe) {
  const car::Sheet sheet = test_sheet();
  const Truth truth = test_truth(sheet);
  const car::Calibration found = calibration_as_found(truth, sheet, 1);
  const DriveRequest request{.task = steps_of({10}, 10)};
  EXPECT_EQ(drive_car(drawn_truth(sheet, 1), sheet, found, request).error().code,
            ErrorCode::needs_answer);
  EXPECT_EQ(drive_car(truth, sheet, {}, request).error().code, ErrorCode::needs_answer);
  DriveRequest endless = request;
  endless.length = 1e6 * second;
  EXPECT_EQ(drive_car(truth, sheet, found, endless).error().code, ErrorCode::out_of_range);
  EXPECT_FALSE(drive_car(truth, sheet, found, {.task = car::Plan{}}).ok());
  EXPECT_FALSE(drive_car(truth, sheet, found, {.task = Cycle{}}).ok());
}

TEST(VirtualCar, ATableAsFoundIsWrongByFiveToFifteenPercent) {
  const car::Sheet sheet = test_sheet();
  const Truth truth = test_truth(sheet);
  const car::Surface right = true_table(truth, car::table_grid(sheet));
  for (std::uint64_t seed = 1; seed <= 10; ++seed) {
    const car::Calibration found = calibration_as_found(truth, sheet, seed);
    const car::Surface& ve = *found.find(car::TableWhat::ve);
    double sum = 0;
    for (std::size_t i = 0; i < ve.values.size(); ++i) {
      sum += std::pow(std::log(ve.values[i] / right.values[i]), 2);
    }
    const double rms = std::sqrt(sum / static_cast<double>(ve.values.size()));
    EXPECT_GT(rms, 0.049);
    EXPECT_LT(rms, 0.151);
    EXPECT_TRUE(car::validate(found).ok());
  }
}

}  // namespace
}  // namespace fuelwright::sim::virtual_car::virtual_car_test
