/// Invented cars and what would be computed of them, for the tests of this module.
#pragma once

#include <gtest/gtest.h>

#include <functional>
#include <string>

#include "advice/first_start/first_start.h"
#include "car/build/sheet_file.h"

namespace fuelwright::advice::test_cars {

inline car::Sheet sheet_of(const std::string& toml) {
  const auto s = car::read_sheet(toml, "test");
  EXPECT_TRUE(s.ok()) << (s.ok() ? "" : s.error().line());
  return *s;
}

inline car::Sheet flat_v8() {
  return sheet_of(
      "[engine]\nbore = \"4.030 in\"\nstroke = \"3.622 in\"\ncylinders = 8\nbanks = 2\n"
      "compression = 9.6\nrod_length = \"5.75 in\"\nfiring_order = \"1-8-4-3-6-5-7-2\"\n"
      "[cam]\ntappet = \"hydraulic_flat\"\nintake_duration_050 = \"222 deg\"\n"
      "intake_advertised = \"274 deg\"\nlobe_separation = \"112 deg\"\nintake_centreline = \"108 "
      "deg\"\n"
      "[injection]\ninjector_count = 8\ninjector_flow = \"36 lb/h at 43.5 psi\"\nsquirts_per_cycle "
      "= 2\n"
      "regulator_reference = \"manifold\"\nregulator_pressure = \"300 kPa\"\n"
      "[ignition]\nkind = \"distributor\"\n[fuel]\nname = \"E10\"\n"
      "[[sensors.mixture]]\nname = \"left\"\nscale = \"afr 14.7\"\n");
}
inline car::Sheet roller_six() {
  return sheet_of(
      "[engine]\ndisplacement = \"3.0 l\"\ncylinders = 6\nfiring_order = \"1-5-3-6-2-4\"\n"
      "compression = 10.5\n[cam]\ntappet = \"hydraulic_roller\"\nintake_duration_050 = \"206 "
      "deg\"\n"
      "[injection]\ninjector_flow = \"24 lb/h at 43.5 psi\"\nregulator_reference = \"manifold\"\n"
      "[ignition]\nkind = \"wasted_spark\"\n[fuel]\nname = \"E10\"\n"
      "[[sensors.mixture]]\nname = \"rear\"\nscale = \"lambda\"\n");
}
inline car::Sheet plain_four(const std::string& more = "") {
  return sheet_of(
      "[engine]\ndisplacement = \"1.8 l\"\ncylinders = 4\n[cam]\nintake_duration_050 = \"200 "
      "deg\"\n"
      "[injection]\ninjector_flow = \"240 cc/min at 3 bar\"\n[fuel]\nname = \"E10\"\n" +
      more);
}
inline car::Sheet high_four() { return plain_four("[place]\naltitude = \"1500 m\"\n"); }
inline car::Sheet throttle_body_v8() {
  return sheet_of(
      "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\n[cam]\ntappet = \"hydraulic_roller\"\n"
      "intake_duration_050 = \"204 deg\"\n[injection]\narrangement = \"throttle\"\n"
      "injector_count = 4\ninjector_flow = \"80 lb/h at 43.5 psi\"\n"
      "regulator_reference = \"atmosphere\"\n[fuel]\nname = \"petrol\"\n");
}

inline StartAnswers all_new() {
  return {true, true, TappetAnswer::roller, true, true, TimingAnswer::unchecked};
}
inline StartAnswers all_old() {
  return {false, false, std::nullopt, false, false, TimingAnswer::untouched};
}

/// Figures as a computation would leave them; `runs`: share of the engines that hold idle.
inline Running running(double runs) {
  Running r;
  r.engines = 64;
  const TableThere table{.target = car::lambda(0.93),
                         .lambda = {0.85, 0.93, 1.01},
                         .half_width = 0.08,
                         .limit = car::lambda(1.0),
                         .chance_lean = 0.004,
                         .lambda_then = {0.85, 0.93, 1.01}};
  r.idle = {.speed = rpm(850),
            .runs = runs,
            .air_kg_s = {4e-3, 5e-3, 6e-3},
            .residual = 0.2,
            .table = table};
  if (runs > 0.5) r.idle.map_pa = physics::Interval{35e3, 40e3, 46e3};
  for (const double n : {2000.0, 2250.0, 2500.0}) {
    r.run_in.push_back({.speed = rpm(n),
                        .runs = 1,
                        .map_pa = physics::Interval{28e3, 33e3, 38e3},
                        .air_kg_s = {9e-3, 11e-3, 13e-3},
                        .table = table});
  }
  return r;
}

inline FirstStart list_of(const car::Sheet& sheet, const StartAnswers& answers,
                          const std::function<void(FirstStartInput&)>& change = {}) {
  const Running computed = running(1.0);
  FirstStartInput in{.sheet = sheet,
                     .answers = answers,
                     .place = place_pressure({}, sheet),
                     .air = celsius(15),
                     .air_from = "the place of the sheet",
                     .air_doubt = 3.0 * kelvin_step};
  in.running = &computed;
  in.rules = safe_rules(sheet);
  if (change) change(in);
  return first_start(in);
}

}  // namespace fuelwright::advice::test_cars
