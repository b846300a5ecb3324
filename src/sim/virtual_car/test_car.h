/// A small car for tests whose air is a formula, so that nothing takes seconds to compute.
#pragma once

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

#include "car/build/sheet_file.h"
#include "sim/virtual_car/as_found.h"
#include "sim/virtual_car/truth_file.h"
#include "sim/virtual_car/virtual_car.h"

namespace fuelwright::sim::virtual_car {

inline car::Sheet test_sheet(const std::string& more = "") {
  const auto sheet = car::read_sheet(
      "[engine]\ndisplacement = \"2.0 l\"\ncylinders = 4\n[cam]\nintake_duration_050 = \"205 "
      "deg\"\n"
      "[injection]\ninjector_flow = \"250 cc/min at 3 bar\"\n[fuel]\nname = \"E10\"\n" +
          more,
      "test.toml");
  EXPECT_TRUE(sheet.ok()) << (sheet.ok() ? "" : sheet.error().line());
  return *sheet;
}

/// VE falls towards light load and has a hump at 3500 rpm; residual 5 % at full load, 26 % at idle.
inline void give_plain_air(Truth& truth) {
  const car::Grid grid{car::Axis::even(car::AxisKind::engine_speed, 400, 7000, 34),
                       car::Axis::even(car::AxisKind::map_absolute, 15e3, 101.325e3, 24)};
  truth.air.ve = car::Surface::flat(grid, 0);
  truth.air.residual = car::Surface::flat(grid, 0);
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      const double hump = (grid.x[ix] - 3500) / 3500;
      const double vacuum = 101.325e3 / grid.y[iy] - 1;
      truth.air.ve->node(ix, iy) = (0.90 - 0.12 * hump * hump) * std::max(1 - 0.09 * vacuum, 0.4);
      truth.air.residual->node(ix, iy) = std::min(0.05 + 0.10 * vacuum, 0.4);
    }
  }
  truth.air.reference_ambient = absolute(101.325 * kPa);
  truth.air.reference_intake = celsius(25);
  truth.air.reference_coolant = celsius(88);
}

inline Truth test_truth(const car::Sheet& sheet, const std::string& text = "",
                        std::uint64_t seed = 1) {
  auto truth = truth_in(text, "truth.toml", sheet, seed);
  EXPECT_TRUE(truth.ok()) << (truth.ok() ? "" : truth.error().line());
  give_plain_air(*truth);
  return *truth;
}

/// Nothing between the table and the reading but time: no noise, error, film or loss.
inline const std::string kQuiet =
    "[fuel]\ncylinders = [1,1,1,1]\n[film]\nfast_share = 0\nslow_share = 0\ncold_loss = 0\n"
    "[air]\ncylinders = [1,1,1,1]\n"
    "[sensor]\nnoise = 0\ndrift = 0\ngain = 1\npressure_error = 0\nmisfires_per_minute = 0\n"
    "dilution_limit = 1\n[weather]\nambient_kpa = 101.325\n"
    "[vehicle]\nhills = 0\ncoolant_at_start_degc = 88\nthermostat_degc = 88\n"
    "[driver]\nunsteadiness = 0\n[recorder]\nmap_noise_kpa = 0\n";

/// Off, up to each speed, and held there; m/s.
inline Cycle steps_of(std::initializer_list<double> speeds, double hold_s) {
  Cycle cycle{{0, 5}, {0, 0}};
  for (const double v : speeds) {
    const double change = std::max(std::abs(v - cycle.speed_mps.back()) / 0.8, 1.0);
    cycle.time_s.push_back(cycle.time_s.back() + change);
    cycle.speed_mps.push_back(v);
    cycle.time_s.push_back(cycle.time_s.back() + hold_s);
    cycle.speed_mps.push_back(v);
  }
  return cycle;
}

inline Drive driven(const Truth& truth, const car::Sheet& sheet, DriveRequest request) {
  request.keep_truth = true;
  auto drive = drive_car(truth, sheet, calibration_as_found(truth, sheet, 1), request);
  EXPECT_TRUE(drive.ok()) << (drive.ok() ? "" : drive.error().line());
  return *drive;
}

}  // namespace fuelwright::sim::virtual_car
