/// What the table ought to have said, moment by moment, by the truth; and how far an answer is off.
///
/// The judge is a fresh drive of the same car: another driver's foot, road and noise; engine warm,
/// closed loop, tip-in fuel and enrichments off, and a unit whose readings are exact and fast, so
/// that fuel and air belong to the same moment. There
///
///   needed VE = looked-up VE * air / (AFR_st target * injected fuel)
///
/// is the value at which the mixture, once the wall film is in balance, would be the target: what a
/// perfect table holds there for this car's injectors, weather and charge temperature. It is driven
/// twice, the second time with the table that the first asked for, so that pulse widths are right.
#pragma once

#include <cmath>
#include <functional>
#include <string>
#include <vector>

#include "cars.h"

namespace fuelwright::bench {

enum class Where : char {
  driven,   ///< everything but the next three
  full,     ///< 90 % of ambient pressure and above
  overrun,  ///< below 32 kPa, faster than 1.4 times idle: where films dry up
  diluted,  ///< burnt share of the charge above 30 %: idle of a cam with overlap, and about it
};

struct Judged {
  std::vector<double> time_s;
  std::vector<car::OperatingPoint> at;
  std::vector<double> needed_ve;
  std::vector<Where> where;
};

Judged judge_drive(const TestCar& car, const sim::virtual_car::Truth& truth,
                   const std::variant<sim::virtual_car::Cycle, car::Plan>& task,
                   std::uint64_t seed, Duration length);

struct Answer {
  double ln = 0;  ///< ln(answer / table as found)
  double sd = 0;
};

/// Sums over moments; of one car, or added up over cars.
struct Score {
  long rows = 0;
  double squares = 0;
  long within_3 = 0;
  long held = 0;
  std::vector<double> half_widths;

  double rms() const;
  double share_within_3() const;
  double coverage() const;
  double median_half_width() const;
  void add(const Score& other);
};

/// Kept between runs under that name.
Judged kept(const Keep& keep, const std::string& name, const std::function<Judged()>& make);

/// `answer` maps an operating point to an Answer; `take` says which moments count.
template <class Take, class F>
Score score(const Judged& judge, const car::Surface& found, Take&& take, F&& answer) {
  constexpr double k95 = 1.959964;
  Score s;
  for (std::size_t i = 0; i < judge.at.size(); ++i) {
    if (!take(judge.where[i], judge.time_s[i])) continue;
    const Answer a = answer(judge.at[i]);
    const double off = std::log(judge.needed_ve[i] / found.at(judge.at[i])) - a.ln;
    ++s.rows;
    s.squares += off * off;
    s.within_3 += std::abs(off) <= 0.03;
    s.held += std::abs(off) <= k95 * a.sd;
    s.half_widths.push_back(k95 * a.sd);
  }
  return s;
}

}  // namespace fuelwright::bench
