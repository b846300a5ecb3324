#include "advice/dynamic_estimate/driving.h"

#include <gtest/gtest.h>

#include <cmath>
#include <string>

#include "advice/dynamic_estimate/internal/charge_law.h"
#include "advice/dynamic_estimate/theta.h"
#include "car/build/derived.h"
#include "car/build/sheet_file.h"
#include "signals/recording/recording.h"
#include "sim/road_drive/road_drive.h"

namespace fuelwright::advice {
namespace {

struct InventedCar {
  car::Sheet sheet;
  sim::Truth truth;
  car::Surface found;
};

car::Sheet sheet_of(const char* litres = "5.7 l", int cylinders = 8) {
  const std::string toml = std::string("[engine]\ndisplacement = \"") + litres +
                           "\"\ncylinders = " + std::to_string(cylinders) + R"(
[cam]
intake_duration_050 = "214 deg"
[injection]
injector_flow = "34 lb/h at 43.5 psi"
squirts_per_cycle = 1
regulator_pressure = "43.5 psi"
dead_time = "0.9 ms"
[fuel]
name = "E10"
[wishes]
scale = "afr 14.7"
)";
  auto sheet = car::read_sheet(toml, "invented.toml");
  EXPECTS(sheet.ok());
  return *sheet;
}

InventedCar invent(std::uint64_t seed) {
  const bool four = seed % 3 == 0;
  car::Sheet sheet = four ? sheet_of("2.2 l", 4) : sheet_of();
  sim::Truth truth =
      sim::invent_truth(seed, sheet.engine.displacement.value, sheet.engine.cylinders.value,
                        sheet.fuel.stoichiometric.value);
  // The unit was told what the sheet says.
  const car::Injection& in = sheet.injection;
  truth.injection.injectors = in.injector_count.value;
  truth.injection.stated_flow = MassFlow{
      in.injector_flow.si() * std::sqrt(in.regulator_pressure.si() / in.injector_pressure.si() *
                                        sheet.fuel.density.si() / in.rated_density.si())};
  truth.injection.stated_dead_time = in.dead_time.value;
  car::Surface found = sim::table_as_found(truth, car::table_grid(sheet), seed);
  return {std::move(sheet), std::move(truth), std::move(found)};
}

signals::Recording read(const std::string& csv) {
  signals::Answers answers;
  answers.afr_constant = 14.7;
  auto r = signals::read_recording(csv, "drive.csv", answers);
  EXPECTS(r.ok());
  return *r;
}

sim::DriveOptions warm(std::uint64_t seed, double minutes) {
  sim::DriveOptions o;
  o.seed = seed;
  o.minutes = minutes;
  o.coolant_at_start = celsius(85);
  return o;
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
  const InventedCar c = invent(41);
  const auto r = read(sim::drive(c.truth, c.found, warm(41, 3)));
  const auto d = Driving::make(r, c.sheet, c.found, c.found, {});
  ASSERT_TRUE(d.ok()) << d.error().line();
  EXPECT_EQ(d->fuel_from, FuelFrom::pulse_width_and_target);
  EXPECT_DOUBLE_EQ(d->step_s, 0.05);
  EXPECT_EQ(d->stretches.size(), 1U);
  EXPECT_LT(d->law_spread, 0.005);  // rounding of the recorder, and a law of another form than ours
}

TEST(Driving, WithoutCorrectionThePulseWidthAloneSpeaks) {
  const InventedCar c = invent(42);
  auto o = warm(42, 1);
  o.columns.correction = false;
  const auto d =
      Driving::make(read(sim::drive(c.truth, c.found, o)), c.sheet, c.found, c.found, {});
  ASSERT_TRUE(d.ok()) << d.error().line();
  EXPECT_EQ(d->fuel_from, FuelFrom::pulse_width);
}

TEST(Driving, NeitherCorrectionNorPulseWidthIsRefused) {
  const InventedCar c = invent(42);
  auto o = warm(42, 1);
  o.columns.correction = false;
  o.columns.pulse_width = false;
  const auto r = read(sim::drive(c.truth, c.found, o));
  EXPECT_FALSE(Driving::make(r, c.sheet, c.found, c.found, {}).ok());
  ObserveOptions open;
  open.open_loop = true;
  EXPECT_TRUE(Driving::make(r, c.sheet, c.found, c.found, open).ok());
}

TEST(Driving, RowsThatComeSlowlyOrIrregularlyHaveNoDynamics) {
  const InventedCar c = invent(43);
  auto o = warm(43, 1);
  o.rows_per_second = 2;
  const auto slow =
      Driving::make(read(sim::drive(c.truth, c.found, o)), c.sheet, c.found, c.found, {});
  ASSERT_FALSE(slow.ok());
  EXPECT_EQ(slow.error().code, ErrorCode::not_found);
  o.rows_per_second = 20;
  auto r = read(sim::drive(c.truth, c.found, o));
  for (std::size_t i = 1; i < r.rows; i += 3) r.time_s[i] += 0.02;
  EXPECT_FALSE(Driving::make(r, c.sheet, c.found, c.found, {}).ok());
}

TEST(Driving, AGapInTimeBeginsANewStretch) {
  const InventedCar c = invent(44);
  auto r = read(sim::drive(c.truth, c.found, warm(44, 1)));
  for (std::size_t i = 600; i < r.rows; ++i) r.time_s[i] += 30;
  const auto d = Driving::make(r, c.sheet, c.found, c.found, {});
  ASSERT_TRUE(d.ok()) << d.error().line();
  ASSERT_EQ(d->stretches.size(), 2U);
  EXPECT_EQ(d->stretches[1].first, 600U);
}

TEST(Driving, ATableThatWasNotInTheUnitIsFoundOut) {
  // Bumps of 12 % that the recording's own fuel contradicts.
  const InventedCar c = invent(45);
  const auto r = read(sim::drive(c.truth, c.found, warm(45, 5)));
  car::Surface other = c.found;
  for (std::size_t i = 0; i < other.values.size(); ++i) {
    other.values[i] *= 1 + 0.12 * std::sin(1.7 * static_cast<double>(i % other.grid.x.size())) *
                               std::cos(1.1 * static_cast<double>(i / other.grid.x.size()));
  }
  const auto d = Driving::make(r, c.sheet, c.found, other, {});
  ASSERT_FALSE(d.ok());
  EXPECT_EQ(d.error().code, ErrorCode::conflict);
}

TEST(Driving, FuelThatTableAndInjectorsDoNotExplainIsSaid) {
  InventedCar c = invent(48);
  const auto r = read(sim::drive(c.truth, c.found, warm(48, 3)));
  EXPECT_TRUE(Driving::make(r, c.sheet, c.found, c.found, {})->notes.empty());
  c.sheet.injection.injector_flow.value.si *= 1.25;  // not the injectors in the car
  const auto d = Driving::make(r, c.sheet, c.found, c.found, {});
  ASSERT_TRUE(d.ok());
  ASSERT_EQ(d->notes.size(), 1U);
  EXPECT_NE(d->notes.front().find("injector"), std::string::npos);
}

TEST(Driving, AClosedLoopSaidToBeOpenIsFoundOut) {
  // A table 12 % off that the loop takes up; the recording does not say so.
  InventedCar c = invent(49);
  c.truth = sim::with_flat_ve(c.truth, 0.80);
  c.found = car::Surface::flat(c.found.grid, 0.80 / 1.12);
  auto o = warm(49, 4);
  o.columns.correction = false;
  ObserveOptions open;
  open.open_loop = true;
  const auto closed =
      Driving::make(read(sim::drive(c.truth, c.found, o)), c.sheet, c.found, c.found, open);
  ASSERT_FALSE(closed.ok());
  EXPECT_EQ(closed.error().code, ErrorCode::conflict);
  o.computer.closed_loop = false;
  EXPECT_TRUE(
      Driving::make(read(sim::drive(c.truth, c.found, o)), c.sheet, c.found, c.found, open).ok());
}

TEST(Driving, TrimsHaveNoDynamics) {
  const InventedCar c = invent(46);
  const auto r = read(sim::drive(c.truth, c.found, warm(46, 1)));
  ObserveOptions o;
  o.way = Way::trims;
  EXPECT_EQ(Driving::make(r, c.sheet, c.found, c.found, o).error().code, ErrorCode::not_found);
}

TEST(Driving, AFuelCutIsNoFuelAndTheClockSinceItRuns) {
  const InventedCar c = invent(47);
  const auto r = read(sim::drive(c.truth, c.found, warm(47, 5)));
  const auto d = Driving::make(r, c.sheet, c.found, c.found, {});
  ASSERT_TRUE(d.ok());
  const auto& pulse = r.find(signals::Quantity::pulse_width)->si;
  long cuts = 0;
  for (std::size_t i = 1; i < r.rows; ++i) {
    if (pulse[i] == 0) {
      ++cuts;
      EXPECT_EQ(d->fuel_kg_s[i], 0);
      EXPECT_EQ(d->since_cut_s[i], 0);
    } else if (pulse[i - 1] == 0) {
      EXPECT_NEAR(d->since_cut_s[i], 0.05, 1e-12);
    }
  }
  EXPECT_GT(cuts, 20);  // the drive has some, or this proves nothing
}

TEST(Driving, MoreGasStandsBeforeASensorFurtherDown) {
  const car::Sheet sheet = sheet_of();
  const double gas = exhaust_before_sensor(sheet).si;
  EXPECT_GT(gas, 0.3e-3);
  EXPECT_LT(gas, 10e-3);  // litres of pipe, gas of 0.4 kg/m3
  car::Sheet further = sheet;
  further.exhaust.collector_length.value = Length{2 * sheet.exhaust.collector_length.si() + 0.5};
  EXPECT_GT(exhaust_before_sensor(further).si, gas);
}

TEST(Driving, ARoughCamsIdleIsTrustedLess) {
  const car::Sheet mild = sheet_of();
  car::Sheet rough = mild;
  rough.cam.intake_duration_050.value = crank_degrees(250);
  rough.cam.exhaust_duration_050.value = crank_degrees(255);
  EXPECT_GT(DynamicsPrior::of(rough).idle_bias, DynamicsPrior::of(mild).idle_bias);
  EXPECT_GT(DynamicsPrior::of(rough).idle_bias_sd, DynamicsPrior::of(mild).idle_bias_sd);
}

}  // namespace
}  // namespace fuelwright::advice
