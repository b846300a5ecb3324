/// What the phases of first_start() hand to each other: the input, the list so far, and units.
#pragma once

#include <string>

#include "advice/first_start/first_start.h"
#include "advice/first_start/numbers.h"

namespace fuelwright::advice::internal {

struct Making {
  const FirstStartInput& in;
  FirstStart out;
  Tappets tappets;
  bool run_in = false, fresh = false, new_cam = false, fuel_opened = true, cooling_opened = true;
  TimingAnswer timing = TimingAnswer::unchecked;

  explicit Making(const FirstStartInput& input);

  StartStep& step(StartPhase phase, const char* id, std::string title);
  const car::Sheet& sheet() const { return in.sheet; }
  const double* setting(car::SettingWhat what) const;
  const car::Curve* curve(car::CurveWhat what) const;
  AbsolutePressure station() const { return in.place.pressure; }
  bool distributor() const;
  /// Manifold pressure that is expected while cranking: the middle, or 0.9 of the station's.
  AbsolutePressure cranking_map() const;
  std::string revision() const;  ///< "revision 3"

  // Figures as people read them. Manifold pressure: kPa or inHg absolute; fuel, oil: kPa or psi.
  std::string manifold(double pa) const;
  std::string manifold_range(const physics::Interval& pa) const;
  std::string gauge(double pa) const;
  std::string gauge_range(double low_pa, double high_pa) const;
  std::string temperature(double k) const;
  std::string flow_range(const physics::Interval& kg_s) const;
  std::string mixture(double lambda) const;  ///< lambda, and the reading of the gauge fitted
};

Expected figure(std::string what, const physics::Interval& si, const char* unit, FigureFrom from,
                std::string says);
Expected bounds(std::string what, double low, double high, const char* unit, FigureFrom from,
                std::string says);
Expected in_words(std::string what, FigureFrom from, std::string says);
Expected unknown(std::string what, std::string says);
/// stated or typical, by the source of a value of the sheet.
FigureFrom from_source(car::Source source);
std::string seconds_text(double s);  ///< "40 s", "6 min"

void standing_steps(Making& m);  // oil, coolant, compression, air
void ignition_steps(Making& m);  // plugs, firing order, rotor, trigger
void oil_last(Making& m);        // a cam that runs in is primed when nothing is turned any more
void fuel_steps(Making& m);      // leak test
void key_on_steps(Making& m);    // tables, sensors
void table_where_it_runs_in(Making& m);
void cranking_steps(Making& m);  // starter, pulse, timing
void running_steps(Making& m);   // start, run-in or idle, warm-up
void afterwards_steps(Making& m);

}  // namespace fuelwright::advice::internal
