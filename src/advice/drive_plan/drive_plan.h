/// The next drive: what to drive, in which order, and what it will bring.
///
///   FW_TRY(const DrivePlan p, plan_drive({estimate, sheet, ve, use, &outlook}, {}));
///   for (const std::string& line : words(p, reader)) ...      // a helper reads them to the driver
///   car::write_plan(p.plan());                                // what a car is driven by
///
/// Candidates are what a driver can do on a road within its limit, or on a dyno that holds a load:
/// a speed held in a gear, a slow sweep of speed at light throttle, a gentle pull, an idle,
/// coasting where the unit gives fuel meanwhile, and full throttle up to the next step of the
/// ladder. Of them the next is always the one with the most
///
///   (tr(G C) - tr(G C'))/(its seconds + seconds to change over)                    (drive_plan.7)
///
/// until the time is used up or the rest brings nothing. Then they are put in the order of a drive:
/// light load first, to high engine speed early; pulls last, from the lowest step up.
/// Deterministic. Theory: docs/theory/drive_plan.md.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "advice/drive_plan/gain.h"
#include "advice/drive_plan/use.h"
#include "advice/map_estimate/estimate.h"
#include "advice/outlook/outlook.h"
#include "car/build/sheet.h"
#include "car/plan/plan.h"

namespace fuelwright::advice {

struct PlanInput {
  const MapEstimate& estimate;  ///< what is known; not_driven() before the first drive
  const car::Sheet& sheet;
  const car::Surface* ve = nullptr;  ///< VE in the unit; nullptr: not known, a usual one is taken
  Use use = {};                      ///< of the car; not known: Use::assumed()
  /// Where it was not driven yet; nullptr: nothing is predicted, and nothing at high load is
  /// planned.
  const Outlook* outlook = nullptr;
  Seen seen = {};             ///< in earlier recordings
  bool stop_finding = false;  ///< a check of the sensors says stop, and it still stands
  bool overrun_cut = true;    ///< the unit cuts fuel on the overrun (or that is not known)
};

struct PlanOptions {
  Duration most = 10.0 * minute;     ///< 0.5 to 60 minutes
  Speed top_speed = 25.0 * m_per_s;  ///< nowhere faster, nor any roller: 5 to 70 m/s
  double grade = 0;                  ///< of the road at hand, rise over run, -0.06 to 0.06
  bool dyno = false;                 ///< holds speed and load: engine speed and pressure are stated
  double good = 0.02;                ///< what "within" means, share: 0.005 to 0.10
  double shared_sd = 0;              ///< as StoppingOptions::shared_sd
};
/// Error out_of_range naming what lies outside its bounds.
Status validate(const PlanOptions& options);

/// How a step feels.
enum class Feel {
  idle,
  light,     ///< below 60 % of ambient pressure
  moderate,  ///< below 80 %
  high,      ///< above, short of full throttle
  overrun,   ///< foot off
  full,      ///< full throttle
};
const char* name_of(Feel feel);

struct PlannedStep {
  car::PlanStep step;
  Feel feel = Feel::light;
  AbsolutePressure pressure;  ///< to be expected (a hold, idle), to be kept (a sweep, a dyno)
  Speed begins, ends;         ///< on the road; of the wheels on a dyno
  Duration time;              ///< of the step itself
  Duration change_over;       ///< before it
  bool other_gear = true;     ///< than the step before
  std::optional<car::Lambda> lift_at;  ///< full throttle: leaner than this, lift
};

/// What is known at some time of the plan.
struct Expectation {
  Duration after;     ///< since the start
  double sd = 0;      ///< rms of ln over the use of the car, floor included [-]
  double within = 0;  ///< share of the use that lies within PlanOptions::good
};

enum class PlanVerdict {
  drive,   ///< there is something to learn
  enough,  ///< more driving brings nothing
  cannot,  ///< nothing that can be driven within the limits teaches this table
};
const char* name_of(PlanVerdict verdict);

struct DrivePlan {
  PlanVerdict verdict = PlanVerdict::cannot;
  std::vector<PlannedStep> steps;
  std::vector<Expectation> course;  ///< before the drive, and after each step
  Expectation best;                 ///< what no driving could better: the floor alone
  bool brings_little = false;  ///< the plan ended because the rest brings nothing, not for its time
  PlanOptions options;
  std::string use;                    ///< where the use of the car was taken from
  std::vector<std::string> assumed;   ///< what was not known and had to be taken
  std::vector<std::string> left_out;  ///< what was not planned, and why

  Duration time() const { return course.empty() ? Duration{} : course.back().after; }
  const Expectation& now() const { return course.front(); }
  const Expectation& then() const { return course.back(); }
  /// What `fuelwright car --plan` drives; holds of a dyno with their pressures.
  car::Plan plan() const;
};

/// Errors: those of validate(); bad_input if the table stands over throttle: which throttle belongs
/// to a road speed is not known. Arrays of the estimate must fit (a broken contract).
Result<DrivePlan> plan_drive(const PlanInput& input, const PlanOptions& options);

/// The same knowledge before anything was driven: the prior around the table at the start.
MapEstimate not_driven(const car::Surface& start, car::TableWhat what, const Prior& prior,
                       const car::Sheet& sheet);

/// One plain sentence: "9 minutes of driving put 95 % of your driving within 2 %; now it is 40 %".
std::string sentence(const DrivePlan& plan);
/// A step as it is read out: "Third gear: hold 2400 rpm, about 70 km/h, for 12 seconds."
std::string says(const PlannedStep& step, const Reader& reader, bool dyno);
/// What to mind before and during the drive.
std::vector<std::string> cautions(const DrivePlan& plan, const Reader& reader);

}  // namespace fuelwright::advice
