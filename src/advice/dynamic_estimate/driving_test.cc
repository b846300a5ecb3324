#include "advice/dynamic_estimate/driving.h"

#include <gtest/gtest.h>

#include <cmath>
#include <string>

#include "advice/dynamic_estimate/internal/charge_law.h"
#include "advice/dynamic_estimate/test_drives.h"
#include "advice/dynamic_estimate/theta.h"

namespace fuelwright::advice::driving_test {
namespace {

Result<Driving> made(const TestCar& c, const signals::Recording& r, const ObserveOptions& o = {}) {
  return Driving::make(r, c.sheet, c.found(), c.found(), o);
}

TEST(Driving, TheLawOfAnInventedUnitIsFoundAgain) {
  std::vector<LawRow> rows;
  const Eigen::Vector4d truth(0.02, 0.12, 0.05, 3e-5);
  for (int i = 0; i < 400; ++i) {
    Eigen::Vector4d column(1, -(0.5 + 0.002 * i) * 0.2, -0.2 + 0.0002 * (i % 37),
                           (i % 11) / 11.0 / 3e-3);
    // Every tenth row carries enrichment.
    rows.push_back({truth.dot(column) + (i % 10 == 0 ? 0.1 : 0.0), column});
  }
  const ChargeLaw law = fit_charge_law(rows);
  for (const LawRow& r : rows) EXPECT_NEAR(law.c.dot(r.column), truth.dot(r.column), 1e-3);
}

TEST(Driving, PulseWidthTargetAndCorrectionTogetherAreTheBestWitness) {
  const TestCar c = invent(41);
  const auto d = made(c, drive(c, 41, 2));
  ASSERT_TRUE(d.ok()) << d.error().line();
  EXPECT_EQ(d->fuel_from, FuelFrom::pulse_width_and_target);
  EXPECT_NEAR(d->step_s, 0.05, 1e-9);
  EXPECT_EQ(d->stretches.size(), 1U);
  ASSERT_TRUE(d->law.has_value());
  EXPECT_LT(d->law_spread, 0.01);  // rounding of the recorder, and a law of another form than ours
}

TEST(Driving, WithoutCorrectionThePulseWidthAloneSpeaks) {
  const TestCar c = invent(42, "recorder.missing = [\"correction\"]\n");
  const auto d = made(c, drive(c, 42, 0.5));
  ASSERT_TRUE(d.ok()) << d.error().line();
  EXPECT_EQ(d->fuel_from, FuelFrom::pulse_width);
}

TEST(Driving, NeitherCorrectionNorPulseWidthIsRefused) {
  const TestCar c = invent(42, "recorder.missing = [\"correction\", \"pulse_width\"]\n");
  const auto r = drive(c, 42, 0.5);
  EXPECT_FALSE(made(c, r).ok());
  ObserveOptions open;
  open.open_loop = true;
  EXPECT_TRUE(made(c, r, open).ok());
}

TEST(Driving, RowsThatComeSlowlyOrIrregularlyHaveNoDynamics) {
  const TestCar c = invent(43);
  auto r = drive(c, 43, 0.5);
  for (std::size_t i = 1; i < r.rows; i += 3) r.time_s[i] += 0.02;
  EXPECT_FALSE(made(c, r).ok());
  const TestCar rare = invent(43, "recorder.rows_per_second = 2\n");
  const auto slow = made(rare, drive(rare, 43, 1));
  ASSERT_FALSE(slow.ok());
  EXPECT_EQ(slow.error().code, ErrorCode::not_found);
}

TEST(Driving, ChannelsReadInTurnHaveNoDynamicsButACorrectionMayStepAsTheUnitDoes) {
  // The correction of such units acts every 0.15 s: three rows. That is no polling.
  const TestCar c = invent(43);
  const auto r = drive(c, 43, 1);
  ASSERT_GT(r.find(signals::Quantity::correction)->refresh.rows.value_or(1), 2);
  EXPECT_TRUE(made(c, r).ok());
  const TestCar polled = invent(43, "recorder.polled_in_rows = 4\n");
  const auto refused = made(polled, drive(polled, 43, 1));
  ASSERT_FALSE(refused.ok());
  EXPECT_EQ(refused.error().code, ErrorCode::not_found);
}

TEST(Driving, AGapInTimeBeginsANewStretch) {
  const TestCar c = invent(44);
  auto r = drive(c, 44, 1);
  for (std::size_t i = 600; i < r.rows; ++i) r.time_s[i] += 30;
  const auto d = made(c, r);
  ASSERT_TRUE(d.ok()) << d.error().line();
  ASSERT_EQ(d->stretches.size(), 2U);
  EXPECT_EQ(d->stretches[1].first, 600U);
}

TEST(Driving, ABatteryLoggedEverySecondLeavesNoHolesInTheLaw) {
  // Values older than 0.6 s are not held; where none is left the sheet's voltage stands in.
  const TestCar c = invent(44);
  auto r = drive(c, 44, 1);
  for (signals::Channel& channel : r.channels) {
    if (channel.what != signals::Quantity::battery) continue;
    for (std::size_t i = 0; i < r.rows; ++i) {
      if (i % 20 != 0) channel.si[i] = NAN;
    }
  }
  const auto d = made(c, r);
  ASSERT_TRUE(d.ok()) << d.error().line();
  EXPECT_TRUE(std::isfinite(d->law_level));
  EXPECT_LT(d->law_spread, 0.02);
}

TEST(Driving, ATableThatWasNotInTheUnitIsFoundOut) {
  // Bumps of 12 % that the recording's own fuel contradicts.
  const TestCar c = invent(45);
  car::Surface other = c.found();
  for (std::size_t i = 0; i < other.values.size(); ++i) {
    other.values[i] *= 1 + 0.12 * std::sin(1.7 * static_cast<double>(i % other.grid.x.size())) *
                               std::cos(1.1 * static_cast<double>(i / other.grid.x.size()));
  }
  const auto d = Driving::make(drive(c, 45, 3), c.sheet, c.found(), other, {});
  ASSERT_FALSE(d.ok());
  EXPECT_EQ(d.error().code, ErrorCode::conflict);
}

TEST(Driving, FuelThatTableAndInjectorsDoNotExplainIsSaid) {
  TestCar c = invent(48);
  const auto r = drive(c, 48, 2);
  EXPECT_TRUE(made(c, r)->notes.empty());
  c.sheet.injection.injector_flow.value.si *= 1.25;  // not the injectors in the car
  const auto d = made(c, r);
  ASSERT_TRUE(d.ok());
  ASSERT_EQ(d->notes.size(), 1U);
  EXPECT_NE(d->notes.front().find("injector"), std::string::npos);
}

TEST(Driving, AClosedLoopSaidToBeOpenIsFoundOut) {
  // A table 10 % off that the loop takes up; the recording does not say so.
  const std::string silent = "recorder.missing = [\"correction\"]\n";
  const TestCar c = ten_percent_lean(silent);
  ObserveOptions open;
  open.open_loop = true;
  const auto closed = made(c, drive(c, 49, 3), open);
  ASSERT_FALSE(closed.ok());
  EXPECT_EQ(closed.error().code, ErrorCode::conflict);
  const TestCar still = ten_percent_lean(silent + "computer.correction_gain = 0\n");
  const auto as_said = made(still, drive(still, 49, 2), open);
  EXPECT_TRUE(as_said.ok()) << as_said.error().line();
}

TEST(Driving, TrimsHaveNoDynamics) {
  const TestCar c = invent(46);
  ObserveOptions o;
  o.way = Way::trims;
  EXPECT_EQ(made(c, drive(c, 46, 0.5), o).error().code, ErrorCode::not_found);
}

TEST(Driving, AFuelCutIsNoFuelAndTheClockSinceItRuns) {
  const TestCar c = invent(47);
  const auto r = drive(c, 47, 3);
  const auto d = made(c, r);
  ASSERT_TRUE(d.ok());
  const auto& pulse = r.find(signals::Quantity::pulse_width)->si;
  long cuts = 0;
  for (std::size_t i = 1; i < r.rows; ++i) {
    if (pulse[i] == 0) {
      ++cuts;
      EXPECT_EQ(d->fuel_kg_s[i], 0);
      EXPECT_EQ(d->since_cut_s[i], 0);
    } else if (pulse[i - 1] == 0) {
      EXPECT_NEAR(d->since_cut_s[i], d->step_s, 1e-12);
    }
  }
  EXPECT_GT(cuts, 20);  // the drive has some, or this proves nothing
}

TEST(Driving, APieceCutOutAndPutBackIsTheDriveItCameFrom) {
  const TestCar c = invent(47);
  auto r = drive(c, 47, 1);
  for (std::size_t i = 600; i < r.rows; ++i) r.time_s[i] += 30;
  const Driving d = *made(c, r);
  Driving again;
  for (const auto& [a, b] :
       {std::pair{0UL, 1UL}, {1UL, 590UL}, {590UL, 600UL}, {600UL, 601UL}, {601UL, d.rows()}}) {
    again.append(d.part(a, b));
  }
  EXPECT_EQ(again.rows(), d.rows());
  EXPECT_EQ(again.fuel_kg_s, d.fuel_kg_s);
  ASSERT_EQ(again.stretches.size(), 2U);
  EXPECT_EQ(again.stretches[0].last, d.stretches[0].last);
  EXPECT_EQ(again.stretches[1].first, d.stretches[1].first);
}

TEST(Driving, MoreGasStandsBeforeASensorFurtherDown) {
  const car::Sheet sheet = v8_sheet();
  const double gas = exhaust_before_sensor(sheet).si;
  EXPECT_GT(gas, 0.3e-3);
  EXPECT_LT(gas, 10e-3);  // litres of pipe, gas of 0.4 kg/m3
  car::Sheet further = sheet;
  further.exhaust.collector_length.value = Length{2 * sheet.exhaust.collector_length.si() + 0.5};
  EXPECT_GT(exhaust_before_sensor(further).si, gas);
}

TEST(Driving, ARoughCamsIdleIsTrustedLess) {
  const car::Sheet mild = v8_sheet();
  car::Sheet rough = mild;
  rough.cam.intake_duration_050.value = crank_degrees(250);
  rough.cam.exhaust_duration_050.value = crank_degrees(255);
  const Dilution lumpy = DynamicsPrior::of(rough).dilution,
                 smooth = DynamicsPrior::of(mild).dilution;
  EXPECT_GT(lumpy.at(800, 50e3).mean, smooth.at(800, 50e3).mean);
  EXPECT_GT(lumpy.at(800, 50e3).sd, smooth.at(800, 50e3).sd);
}

}  // namespace
}  // namespace fuelwright::advice::driving_test
