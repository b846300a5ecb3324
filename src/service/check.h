/// Can the sensors be believed: request and reply of `check`, and the rules of the guard in a job.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "advice/guard/guard_recording.h"
#include "advice/sensor_checks/sensor_checks.h"
#include "base/result.h"

namespace fuelwright::service {

struct CheckRequest {
  std::string job;
  std::vector<std::string> recordings;  ///< numbers or names; empty without key_on: all
  std::vector<std::string> key_on;      ///< those with the key on and the engine standing
  advice::WeatherReport weather = {};
};

/// One recording looked at.
struct CheckedRecording {
  std::int64_t id = 0;
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
/// Writes nothing. Errors: not_found, naming what came and what there is; out_of_range for weather
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

}  // namespace fuelwright::service
