/// fuelwright car: drives a virtual car whose truth is known, and writes its recording.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "commands.h"

namespace fuelwright::apps {

struct CarOptions {
  Common common;
  std::string sheet;  ///< a path
  std::string cycle;  ///< a path to time and speed; empty: a plan is driven
  std::string plan;   ///< a path to a plan (TOML or JSON)
  std::uint64_t seed = 1;
  std::optional<double> minutes;    ///< default: the cycle once, the plan to its end
  std::vector<std::string> faults;  ///< "KIND@SECONDS:SEVERITY"
  std::string truth_in;             ///< a path; empty: all drawn from the seed
  std::string truth_out;
  std::string calibration;      ///< a job or a tables file; empty: as found, wrong by 5 to 15 %
  std::string calibration_out;  ///< the calibration that was in the unit, as JSON
  std::string learned_out;      ///< the factors that the unit had learned in the end, as text
  std::string out;
};
int run_car(const CarOptions& o);

}  // namespace fuelwright::apps
