/// An invented car for the tests of this module: a 2.0-litre four in a car of 1200 kg, all of it on
/// the sheet, and a table of its own axes.
#pragma once

#include <gtest/gtest.h>

#include <string>

#include "advice/drive_plan/drive_plan.h"
#include "car/build/sheet_file.h"

namespace fuelwright::advice {

inline car::Sheet plan_sheet(const std::string& cam = "206 deg", bool with_car = true) {
  const std::string car =
      "[car]\nmass = \"1200 kg\"\ntyre_radius = \"0.30 m\"\naxle = 4.0\n"
      "gears = [3.4, 1.9, 1.25, 0.95, 0.75]\ndrag = 0.32\nfrontal_area = \"2.0 m2\"\n"
      "rolling_resistance = 0.012\n";
  auto s = car::read_sheet(
      "[engine]\ndisplacement = \"2.0 l\"\ncylinders = 4\ncompression = 10\n"
      "[cam]\nintake_duration_050 = \"" +
          cam +
          "\"\n[injection]\ninjector_flow = \"290 cc/min at 3 bar\"\n"
          "[fuel]\nname = \"E10\"\n[place]\npressure = \"100 kPa absolute\"\n"
          "temperature = \"20 degC\"\n[wishes]\nscale = \"afr 14.7\"\n"
          "idle_speed = \"850 rpm\"\nrev_limit = \"6500 rpm\"\n" +
          (with_car ? car : ""),
      "test");
  EXPECT_TRUE(s) << s.error().line();
  return *s;
}

/// 800 to 6800 rpm, 25 to 100 kPa.
inline car::Grid plan_grid() {
  return {car::Axis::even(car::AxisKind::engine_speed, 800, 6800, 11),
          car::Axis::even(car::AxisKind::map_absolute, 25e3, 100e3, 8)};
}

inline MapEstimate nothing_known(const car::Sheet& sheet) {
  return not_driven(car::Surface::flat(plan_grid(), 0.8), car::TableWhat::ve,
                    table_as_found_prior(), sheet);
}

/// An outlook in which everything is fine to try and the ladder begins at its lowest step.
inline Outlook all_fine(const MapEstimate& e, const car::Sheet& sheet) {
  const car::Surface table = car::Surface::flat(plan_grid(), 0.8);
  const car::Surface aim = car::Surface::flat(plan_grid(), 0.85);
  auto o = look_ahead({e, sheet, table, aim, std::nullopt}, {});
  EXPECT_TRUE(o) << o.error().line();
  for (NodeOutlook& n : o->nodes) n.go = Go::fine;
  o->ladder.next = 0;
  for (Rung& r : o->ladder.rungs) {
    r.step = &r == &o->ladder.rungs[0] ? Step::next : Step::later;
    r.may_try = &r == &o->ladder.rungs[0];
    r.light_load_known = true;
    r.lift_at = car::lambda(0.90);
  }
  return std::move(*o);
}

}  // namespace fuelwright::advice
