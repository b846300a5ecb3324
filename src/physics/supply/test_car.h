/// Invented cars for the tests of this module: a sheet with tight tolerances, and an engine whose
/// air is a simple curve, so that everything can be worked out again beside it.
#pragma once

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <string>

#include "car/build/sheet_file.h"
#include "physics/supply/supply.h"

namespace fuelwright::physics::supply {

/// Sections and keys of a sheet; later entries replace earlier ones.
using Lines = std::map<std::string, std::map<std::string, std::string>>;

inline Lines sound_v8() {
  return {
      {"engine", {{"displacement", "\"5.7 l\""}, {"cylinders", "8"}}},
      {"cam", {{"intake_duration_050", "\"222 deg\""}}},
      {"fuel",
       {{"name", "\"petrol\""},
        {"stoichiometric", "\"14.6 +- 0.02\""},
        {"density", "\"0.745 kg/l +- 0.001 kg/l\""}}},
      {"injection",
       {{"injector_flow", "\"36 lb/h +- 0.2 lb/h\""},
        {"injector_pressure", "\"300 kPa +- 1 kPa\""},
        {"rated_density", "\"0.745 kg/l +- 0.001 kg/l\""},
        {"squirts_per_cycle", "1"},
        {"dead_time", "\"0.95 ms +- 0.02 ms\""},
        {"dead_time_voltage", "\"13.5 V\""},
        {"regulator_reference", "\"manifold\""},
        {"regulator_pressure", "\"300 kPa +- 1 kPa\""},
        {"pump_flow", "\"150 l/h +- 1 l/h\""},
        {"pump_pressure", "\"300 kPa +- 1 kPa\""},
        {"pump_voltage", "\"13.5 V +- 0.02 V\""}}},
      {"supply",
       {{"pump_curve_pressure", "[\"0 kPa\", \"300 kPa\", \"600 kPa\"]"},
        {"pump_curve_flow", "{ values = [202.5, 150, 97.5], unit = \"l/h\", tolerance = \"1 %\" }"},
        {"pump_current", "\"6 A +- 0.1 A\""},
        {"charging_voltage", "\"13.8 V +- 0.05 V\""},
        {"wire_area", "\"4 mm2 +- 0.1 mm2\""},
        {"wire_length", "\"5 m +- 0.1 m\""},
        {"ground_length", "\"1 m +- 0.05 m\""},
        {"contact_drop", "\"0.15 V +- 0.02 V\""},
        {"hose_length", "\"4.5 m +- 0.1 m\""},
        {"hose_diameter", "\"8 mm +- 0.1 mm\""},
        {"filter_loss", "\"6 kPa +- 1 kPa\""},
        {"fuel_temperature", "\"30 degC +- 2 K\""},
        {"vapour_pressure", "\"60 kPa +- 2 kPa\""}}},
      {"place", {{"pressure", "\"101.3 kPa\""}}},
      {"wishes",
       {{"scale", "\"lambda\""},
        {"full_throttle_mixture", "\"0.86 +- 0.003\""},
        {"rev_limit", "\"6200 rpm\""}}}};
}

inline std::string text_of(const Lines& lines) {
  std::string out;
  for (const auto& [section, keys] : lines) {
    out += "[" + section + "]\n";
    for (const auto& [key, value] : keys) out += key + " = " + value + "\n";
  }
  return out;
}

inline car::Sheet sheet_of(const Lines& lines) {
  auto sheet = car::read_sheet(text_of(lines), "sheet.toml");
  EXPECT_TRUE(sheet.ok()) << (sheet.ok() ? "" : sheet.error().line());
  return sheet.ok() ? *sheet : car::Sheet{};
}

/// Volumetric efficiency of the invented engine [-].
inline double invented_ve(double rpm_now) {
  const double x = (rpm_now - 4600) / 4600;
  return 0.92 * (1 - 0.35 * x * x);
}
/// Its air [kg/s]: VE rho V_d n/2, rho 1.184 kg/m3 (25 degC, 101.3 kPa).
inline double invented_air(double litres, double rpm_now) {
  return invented_ve(rpm_now) * 1.184 * litres * 1e-3 * rpm_now / 120;
}
/// 0.47 lb/(hp h) at lambda 0.86 makes this much power of its air [W].
inline double invented_power(double air) {
  return air / (0.86 * 14.6) / (0.47 * 0.45359237 / 3600 / 745.7);
}

inline Demand invented_demand(double litres, double spread = 0.0, int engines = 8) {
  Demand d;
  for (double n = 1000; n <= 6500; n += 250) {
    d.speeds.push_back(rpm(n));
    d.manifold.push_back(absolute(100.0 * kPa));
  }
  for (int m = 0; m < engines; ++m) {
    const double k = 1 + spread * (2.0 * m / std::max(1, engines - 1) - 1);
    d.air.emplace_back();
    d.power.emplace_back();
    for (const EngineSpeed n : d.speeds) {
      d.air.back().push_back(MassFlow{k * invented_air(litres, n.rpm)});
      d.power.back().push_back(Power{invented_power(k * invented_air(litres, n.rpm))});
    }
  }
  d.idle = {rpm(800), absolute(45.0 * kPa), {MassFlow{5.5e-3 * litres / 5.7}}, car::lambda(0.92)};
  return d;
}

inline SupplyAnswer answer_of(const Lines& lines, const Demand& demand,
                              const SupplySettings& settings = {}) {
  auto out = size_supply(sheet_of(lines), demand, settings);
  EXPECT_TRUE(out.ok()) << (out.ok() ? "" : out.error().line());
  return out.ok() ? *out : SupplyAnswer{};
}

}  // namespace fuelwright::physics::supply
