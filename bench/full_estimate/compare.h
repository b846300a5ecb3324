/// One car, every length of recording, every method: the scores.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "methods.h"

namespace fuelwright::bench {

inline constexpr std::array kMinutes{0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 20.0, 40.0};
inline constexpr double kLongest_min = 40;

/// What a car drove, and its judges.
struct Material {
  TestCar car;
  std::string ordinary;  ///< recording, 40 minutes
  std::string pulls;     ///< recording, four pulls at full throttle
  Judged judge;          ///< ordinary driving in the same order, driven anew
  Judged judge_pulls;
  Judged judge_other_day;
};
struct MaterialOptions {
  bool true_sensor = false;
  bool other_day = false;  ///< only then is judge_other_day there
};
Material material(std::uint64_t number, const MaterialOptions& options, const Keep& keep);

/// Scores of one answer.
struct Scores {
  Score driven;   ///< the time driven, driven anew; without overrun below 32 kPa
  Score all;      ///< 40 minutes of ordinary driving, whatever was recorded; without that too
  Score part;     ///< of `driven`: below 90 % of ambient pressure
  Score overrun;  ///< of `all`
  void add(const Scores& other);
};
Scores scores_of(const Material& m, double minutes, const Says& says);
/// Full throttle, by the judge of the pulls.
Score full_throttle(const Material& m, const Says& says);
/// What a table with these nodes could reach at best over ordinary driving: fitted to the judge.
double best_possible(const Material& m);

}  // namespace fuelwright::bench
