/// Can the sensors be believed: request and reply of `check`, and the rules of the guard in a job.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "advice/guard/guard_recording.h"
#include "advice/sensor_checks/sensor_checks.h"
#include "base/result.h"
#include "signals/recording/recording.h"

namespace fuelwright::service {

/// A recording that is only looked at, not taken into the job.
struct CheckFile {
  std::string name;  ///< as it stands in CheckRequest::key_on
  std::string bytes;
  signals::Answers answers = {};  ///< what the job keeps for such files fills what is missing
};

struct CheckRequest {
  std::string job;
  std::vector<std::string> recordings;  ///< numbers or names; empty without key_on: all
  /// Those with the key on and the engine standing: of the job, else of `files`.
  std::vector<std::string> key_on;
  advice::WeatherReport weather = {};
  std::vector<CheckFile> files = {};
};

/// One recording looked at.
struct CheckedRecording {
  std::int64_t id = 0;  ///< 0: not in the job
  std::string name;
  bool key_on = false;
  bool timed = true;  ///< false: seconds are rows
  double seconds = 0;
  std::optional<std::string> refused;     ///< why nothing of it can be learned from
  std::vector<advice::Finding> findings;  ///< stop first
  std::vector<advice::NotChecked> not_checked;
  std::vector<advice::MaskedShare> masked;  ///< what an estimate may not use, and why
  advice::GuardReport guard;                ///< of a drive
};

struct CheckReply {
  std::string sentence;  ///< can these be believed, and what is to be put right first
  UnitSystem units = UnitSystem::metric;
  int stops = 0, doubts = 0, fine = 0;
  std::vector<CheckedRecording> recordings;
  advice::Rules rules;     ///< of the guard, as the job keeps them
  bool own_rules = false;  ///< false: the safe defaults
};
/// Writes nothing. Errors: those of signals::read_recording() for a file; not_found, naming what came and what there is; out_of_range for weather
/// that cannot be.
Result<CheckReply> check(const CheckRequest& request);

/// Rules of the guard as JSON (advice/guard/rules.h); those that it leaves out stay as they are.
struct GuardRulesRequest {
  std::string job;
  std::string json;
  std::string name;  ///< of the file, for messages
  std::string who, when;
};
/// Kept in the job, journaled. Errors: as advice::read_rules_json.
Status keep_guard_rules(const GuardRulesRequest& request);
/// Those that stand now, the safe defaults included. Errors: damaged.
Result<std::string> guard_rules_json(const std::string& job);

}  // namespace fuelwright::service
