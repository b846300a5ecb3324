/// The question "what must happen before this engine runs for the first time, and in which order?":
/// request and reply.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "advice/first_start/first_start.h"
#include "advice/sensor_checks/sensor_checks.h"
#include "base/result.h"
#include "base/units/number.h"

namespace fuelwright::service {

/// One answer as a person gives it: "new_cam", "yes".
struct StartAnswer {
  std::string id, text;
};

struct FirstStartRequest {
  std::string job;
  std::vector<StartAnswer> answers;
  advice::WeatherReport weather = {};  ///< of today; what is left out is the sheet's place
  /// Leanest mixture at the run-in of a cam [lambda]; default: advice::RunningOptions.
  std::optional<double> lean_limit = {};
  /// Chance of being leaner that is taken; default: advice::RunningOptions.
  std::optional<double> lean_chance = {};
};

struct StartQuestionsReply {
  std::string sentence;                          ///< how many are open, and which
  std::vector<advice::StartQuestion> questions;  ///< those that matter here; answered ones too
  int open = 0;
};
/// Which questions this car's list hangs on; nothing is computed. Errors: those of
/// advice::answer_question() and of Job::open.
Result<StartQuestionsReply> start_questions(const FirstStartRequest& request);

struct FirstStartReply {
  std::string sentence;
  std::string not_known;  ///< one sentence, or empty
  UnitSystem units = UnitSystem::metric;
  std::vector<advice::StartQuestion> questions;  ///< with their answers
  bool computed = false;  ///< by the engines of the sheet; false: `not_computed` says why not
  std::string not_computed;
  int engines = 0;
  int revision = 0;  ///< in force
  advice::PlacePressure place;
  Temperature air;
  std::string air_from;
  std::optional<advice::Running> running;
  advice::FirstStart list;
};
/// The ordered list; writes nothing. Without engines kept in the job it comes all the same, and
/// says which figures are not computed yet. Errors: needs_answer naming every open question;
/// out_of_range for weather or limits that cannot be; those of start_questions().
Result<FirstStartReply> first_start(const FirstStartRequest& request);

}  // namespace fuelwright::service
