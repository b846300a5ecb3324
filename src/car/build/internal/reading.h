/// What reading a sheet gathers on its way: the sheet so far, which keys were given on which line,
/// and every problem.
#pragma once

#include <algorithm>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "base/result.h"
#include "car/build/internal/keys.h"

namespace fuelwright::car {

struct Problem {
  int line;
  Error error;
};

struct Reading {
  std::string file;
  Sheet sheet;
  std::set<std::string> given;  ///< "engine.bore"; "sensors.mixture.1.scale" for the first sensor
  std::map<std::string, int> lines;  ///< of given keys and of sections
  int last_line = 1;
  std::vector<Problem> problems;

  bool has(const std::string& path) const { return given.contains(path); }

  /// The line of a key; of its section if the key was not given; the last line if neither was.
  int line_of(const std::string& path) const {
    if (const auto at = lines.find(path); at != lines.end()) return at->second;
    if (const auto at = lines.find(path.substr(0, path.rfind('.'))); at != lines.end())
      return at->second;
    return last_line;
  }
  void report_at(int line, const std::string& path, ErrorCode code, std::string message) {
    const std::string place = file + ":" + std::to_string(line);
    // TOML escapes can put any character into a value that is quoted here: one line stays one line.
    std::replace_if(
        message.begin(), message.end(),
        [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; }, '?');
    problems.push_back(
        {line, {code, path.empty() ? place : place + ": " + path, std::move(message)}});
  }
  void report(const std::string& path, ErrorCode code, std::string message) {
    report_at(line_of(path), path, code, std::move(message));
  }
};

/// Asks for what cannot be filled: the five answers, and answers that given values demand.
void check_required(Reading& reading);
/// Fills every key that was not given, in the order of the table, from the rules.
void fill_typical(Reading& reading);
/// Contradictions between given values. The sheet must be filled.
void cross_check(Reading& reading);
/// The parts of the last two that concern section supply.
void check_supply_required(Reading& reading);
void cross_check_supply(Reading& reading);

}  // namespace fuelwright::car
