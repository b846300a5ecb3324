#include "advice/first_start/running.h"

#include <gtest/gtest.h>

#include <cmath>

#include "advice/first_start/test_cars.h"
#include "car/build/derived.h"
#include "physics/ensemble/ensemble.h"

namespace fuelwright::advice::running_test {
namespace {

using namespace physics;

car::Surface flat_table(double ve) {
  return car::Surface::flat({car::Axis::even(car::AxisKind::engine_speed, 500, 6000, 12),
                             car::Axis::even(car::AxisKind::map_absolute, 20e3, 100e3, 9)},
                            ve);
}

TableThere one_engine(double ve, double fuel_sd, double limit, double chance = 0.01) {
  const MembersThere m{.map_pa = {35e3}, .ve = {ve}, .fuel_sd = fuel_sd};
  return table_there(m, flat_table(0.5), nullptr, car::lambda(0.9), rpm(2250),
                     absolute(100.0 * kPa), car::lambda(limit), chance);
}

// By hand: lambda = 0.9 * 0.5/0.5; ln(1/0.9) = 0.10536 over 0.05 is 2.107 standard deviations, of
// which 1.76 % lie beyond (normal table).
TEST(RunningFirst, TheChanceOfBeingLeanIsThatOfTheNormalTable) {
  const TableThere t = one_engine(0.5, 0.05, 1.0);
  EXPECT_NEAR(t.lambda.middle, 0.9, 1e-6);
  EXPECT_NEAR(t.chance_lean, 0.0176, 2e-4);
  EXPECT_NEAR(t.half_width, 1.96 * 0.05, 1e-3);
}

// By hand: 1 % lie beyond 2.3263 standard deviations: 0.11632 - 0.10536 = 0.01096, so 1.1 % more
// fuel; and an engine that takes 10 % more air than the table has needs that on top.
TEST(RunningFirst, TheMarginBringsTheChanceToWhatIsTaken) {
  EXPECT_NEAR(one_engine(0.5, 0.05, 1.0).richer, std::expm1(0.01096), 2e-4);
  const TableThere more = one_engine(0.55, 0.05, 1.0);
  EXPECT_NEAR(more.richer, 1.1 * std::exp(0.01096) - 1, 4e-4);
  EXPECT_NEAR(more.lambda_then.middle, 0.9 / std::exp(0.01096), 1e-3);
  EXPECT_EQ(one_engine(0.45, 0.02, 1.0).richer, 0);  // rich already
}

TEST(RunningFirst, EnginesThatDifferCountEachWithItsShare) {
  const MembersThere m{.map_pa = {35e3, 35e3}, .ve = {0.4, 0.6}, .fuel_sd = 1e-3};
  const TableThere t = table_there(m, flat_table(0.5), nullptr, car::lambda(1.0), rpm(2250),
                                   absolute(100.0 * kPa), car::lambda(1.0), 0.01);
  EXPECT_NEAR(t.chance_lean, 0.5, 1e-6);
  EXPECT_NEAR(t.lambda.low, 0.8, 0.01);
  EXPECT_NEAR(t.lambda.high, 1.2, 0.01);
}

// By hand, of the tolerances (95 %): flow 3 %, both pressures 2 % at half weight, dead time 0.1 of
// 2 ms and so on; each over 1.96, their squares added.
TEST(RunningFirst, DoubtAboutFuelGrowsWhereThePulseIsShort) {
  const car::Sheet sheet = test_cars::flat_v8();
  const double long_pulse = fuel_doubt(sheet, 40.0 * mg, absolute(60.0 * kPa));
  const double short_pulse = fuel_doubt(sheet, 4.0 * mg, absolute(60.0 * kPa));
  EXPECT_GT(short_pulse, 1.5 * long_pulse);
  EXPECT_GT(long_pulse, 0.03 / 1.96);
  EXPECT_LT(long_pulse, 0.04);
}

struct Computed {
  car::Sheet sheet;
  Ensemble ensemble;
};
// A small ensemble: the test is about what is made of it.
const Computed& v8() {
  static const Computed kV8 = [] {
    car::Sheet sheet = test_cars::flat_v8();
    MapPlaces places;
    for (const double n : {700.0, 900.0, 1500.0, 2250.0, 3000.0, 4500.0})
      places.speeds.push_back(rpm(n));
    for (const double p : {22.0, 30.0, 40.0, 52.0, 70.0, 98.0}) {
      places.pressures.push_back(absolute(p * kPa));
    }
    places.surroundings = surroundings_of(sheet);
    DrawSettings settings;
    settings.members = 12;
    settings.steps = false;
    settings.maps.grid = 45 * mm;
    settings.maps.most_cycles = 12;
    auto drawn = draw_engines(sheet, places, settings);
    EXPECT_TRUE(drawn.ok()) << (drawn.ok() ? "" : drawn.error().line());
    return Computed{sheet, Ensemble(std::move(*drawn))};
  }();
  return kV8;
}

car::Calibration with_table(double factor) {
  car::Calibration c;
  const auto grid = car::Grid{car::Axis::even(car::AxisKind::engine_speed, 600, 4500, 14),
                              car::Axis::even(car::AxisKind::map_absolute, 24e3, 98e3, 12)};
  const auto w = weights_onto(v8().ensemble, grid);
  EXPECT_TRUE(w.ok());
  car::Surface s{grid, {}};
  const Eigen::VectorXd mean = *w * v8().ensemble.mean();
  for (Eigen::Index i = 0; i < mean.size(); ++i) s.values.push_back(factor * std::exp(mean[i]));
  c.tables.insert_or_assign(car::TableWhat::ve, std::move(s));
  return c;
}

Running run(const car::Calibration& c, bool run_in = true) {
  const auto r = running_of(v8().sheet, v8().ensemble, c, {.run_in = run_in});
  EXPECT_TRUE(r.ok()) << (r.ok() ? "" : r.error().line());
  return *r;
}

// Ideal gas by hand: air = VE p V_d N/(120 R T) with the table's VE at the pressure and temperature
// of the answer; what blows through and the engines' spread leave 15 %.
TEST(RunningFirst, IdleAirIsThatOfTheGasLawAtItsPressure) {
  const Running r = run(with_table(1.0), false);
  ASSERT_TRUE(r.idle.map_pa.has_value());
  const car::Calibration c = with_table(1.0);
  const double p = r.idle.map_pa->middle;
  const double ve = c.find(car::TableWhat::ve)->at(r.idle.speed.rpm, p);
  const double t = v8().ensemble.drawn().places.surroundings.intake_air.from_zero.si;
  const double air =
      ve * p * v8().sheet.engine.displacement.si() * r.idle.speed.rpm / (120 * 287.05 * t);
  EXPECT_NEAR(r.idle.air_kg_s.middle / air, 1, 0.15);
  EXPECT_TRUE(r.run_in.empty());
}

TEST(RunningFirst, WithoutLoadItTakesMoreAirAtTheRunInThanAtIdleAndLessPressure) {
  const Running r = run(with_table(1.0));
  ASSERT_EQ(r.run_in.size(), 3U);
  for (const auto& p : r.run_in) {
    ASSERT_TRUE(p.map_pa.has_value());
    EXPECT_GT(p.air_kg_s.middle, r.idle.air_kg_s.middle);
    EXPECT_LT(p.map_pa->middle, r.idle.map_pa->middle);
  }
}

TEST(RunningFirst, ALeanTableIsFoundOutAndTheMarginPutsItRight) {
  const Running right = run(with_table(1.0)), lean = run(with_table(0.8));
  for (std::size_t i = 0; i < 3; ++i) {
    ASSERT_TRUE(lean.run_in[i].table && right.run_in[i].table);
    EXPECT_GT(lean.run_in[i].table->chance_lean, right.run_in[i].table->chance_lean);
    EXPECT_NEAR(lean.run_in[i].table->lambda.middle / right.run_in[i].table->lambda.middle, 1.25,
                0.01);
  }
  // Richer by what it says: the chance is what was taken.
  const double richer = lean.run_in[1].table->richer;
  EXPECT_GT(richer, 0.1);
  EXPECT_NEAR(run(with_table(0.8 * (1 + richer))).run_in[1].table->chance_lean, 0.01, 0.002);
}

TEST(RunningFirst, WhereDrivingHasShownTheTableItIsSurer) {
  const car::Calibration c = with_table(1.0);
  car::Evidence e{.what = car::TableWhat::ve, .grid = c.find(car::TableWhat::ve)->grid};
  e.estimate = c.find(car::TableWhat::ve)->values;
  e.sd_log.assign(e.estimate.size(), 0.01);
  const auto r = running_of(v8().sheet, v8().ensemble, c, {.evidence = &e});
  ASSERT_TRUE(r.ok());
  EXPECT_TRUE(r->by_driving);
  EXPECT_LT(r->idle.table->half_width, run(c, false).idle.table->half_width);
}

TEST(RunningFirst, ColdOilTakesMorePressure) {
  car::Calibration c = with_table(1.0);
  const auto coolant = car::Axis::make(car::AxisKind::coolant_temperature, {273.15, 361.15});
  c.curves.insert_or_assign(car::CurveWhat::idle_air, car::Curve{*coolant, {16e-3, 8e-3}});
  c.curves.insert_or_assign(car::CurveWhat::idle_speed, car::Curve{*coolant, {1000, 800}});
  EXPECT_NEAR(cold_friction(c, celsius(0)), 2.0 / 1.25, 1e-9);
  const auto r = running_of(v8().sheet, v8().ensemble, c, {.start = celsius(0)});
  ASSERT_TRUE(r.ok());
  ASSERT_TRUE(r->idle.cold_map_pa.has_value());
  EXPECT_GT(r->idle.cold_map_pa->middle, r->idle.map_pa->middle);
}

TEST(RunningFirst, ALimitThatCannotBeIsNamed) {
  const auto r = running_of(v8().sheet, v8().ensemble, {}, {.lean_limit = car::lambda(2)});
  ASSERT_FALSE(r.ok());
  EXPECT_EQ(r.error().code, ErrorCode::out_of_range);
}

}  // namespace
}  // namespace fuelwright::advice::running_test
