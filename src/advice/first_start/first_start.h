/// The first start of one car: what must happen before its engine runs and while it runs for the
/// first time, in order, with the figure to expect at each step, what it means if it is not so, and
/// when to stop.
///
///   const FirstStart list = first_start({.sheet = sheet, .answers = answers, .place = place,
///                                        .air = celsius(12), .calibration = &calibration,
///                                        .running = &running, .rules = safe_rules(sheet)});
///   for (const StartStep& s : list.steps) say(s.number, s.title, s.act);
///
/// Pure: nothing is computed of the engine here (running.h does), and every figure says where it
/// comes from. What is not known is said in words and is no error. Theory:
/// docs/theory/first_start.md.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "advice/first_start/questions.h"
#include "advice/first_start/running.h"
#include "advice/guard/rules.h"
#include "advice/sensor_checks/sensor_checks.h"

namespace fuelwright::advice {

enum class StartPhase { standing, fuel, key_on, cranking, running, afterwards };
const char* name_of(StartPhase phase);   ///< "key_on", in JSON
const char* label_of(StartPhase phase);  ///< "Key on, engine off", for people

/// Where a figure comes from.
enum class FigureFrom {
  computed,         ///< of this car, by a formula or the engine model
  stated,           ///< by the sheet: measured or stated by its owner
  typical,          ///< filled in the sheet from such engines
  common_practice,  ///< of the trade, no source
  memory,           ///< recalled, without the source at hand
};
const char* name_of(FigureFrom from);

/// What to expect. Numbers in SI (engine speed in rpm, angles in degrees), 95 % or the usual range.
struct Expected {
  std::string what;  ///< "manifold pressure"
  std::optional<double> low, middle, high;
  std::string unit;  ///< of these: "Pa", "K", "rpm", "deg", "s", "V", "1"
  FigureFrom from = FigureFrom::common_practice;
  bool known = true;  ///< false: `says` tells why not, and what to do about it
  std::string says;   ///< "98.4 kPa +-2.1", in the person's units
};

struct StartStep {
  int number = 0;  ///< 1, 2, 3 ...
  StartPhase phase = StartPhase::standing;
  std::string id;  ///< "oil_primed"
  std::string title;
  std::vector<std::string> act;  ///< what to do, in order
  std::vector<Expected> expect;
  std::vector<std::string> if_not;  ///< what it means
  std::vector<std::string> stop;    ///< when to stop, at once
  std::vector<std::string> cautions;
};

struct FirstStartInput {
  const car::Sheet& sheet;
  StartAnswers answers;  ///< all that questions_of() asks; an open one is taken on the safe side
  PlacePressure place;
  Temperature air;
  std::string air_from;                           ///< "stated", "the place of the sheet"
  TemperatureStep air_doubt{};                    ///< 95 %
  std::optional<Duration> stood;                  ///< since the engine last ran
  const car::Calibration* calibration = nullptr;  ///< in force; none: there is none
  int revision = 0;
  const Running* running = nullptr;  ///< none: not computed yet
  std::string not_computed;          ///< why: "not computed yet: run predict"
  Rules rules;                       ///< of the guard
  UnitSystem units = UnitSystem::metric;
};

struct FirstStart {
  std::string sentence;               ///< how many steps, and what is decisive
  std::string not_known;              ///< one sentence, or empty
  bool run_in = false;                ///< a new cam is run in and must not idle before
  std::vector<std::string> cautions;  ///< of the whole
  std::vector<std::string> because;   ///< how the answers shaped the list
  std::vector<StartStep> steps;
  const StartStep* find(std::string_view id) const;
};
FirstStart first_start(const FirstStartInput& input);

}  // namespace fuelwright::advice
