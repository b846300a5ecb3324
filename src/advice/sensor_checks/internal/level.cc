// The level of the mixture over time: steps, drift, and what the unit corrects all along.
//
//   y = ln(lambda/target) + ln(1 + correction)       y_ij = place_i + level_j + noise
//
// place i a cell over speed and load, level j twenty seconds of driving, by least squares in turn
// (sensor_checks.12): what depends on the place only, such as a wrong table, is taken out.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "advice/sensor_checks/internal/air.h"
#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

constexpr double kBlock_s = 20;
constexpr double kSide_s = 160;  // looked at on each side of a step
constexpr int kCells = 12;
constexpr double kWander = 0.0065;  // of sound sensors' levels a few minutes apart, 1 sd
constexpr double kStepFaulty = 0.06;
constexpr double kGraveStep = 0.15;
constexpr double kDriftSd = 0.011;  // of a fitted change from first to last, sound sensors
constexpr double kGraveDrift = 0.15;
constexpr double kWarming_s = 150;  // film and oil are still settling after the coolant is warm
constexpr double kStandingDoubt = 0.10;

struct Block {
  double t = 0;
  double level = 0;
  double weight = 0;  // rows
};

struct Cellwise {
  std::map<std::pair<int, int>, std::pair<double, double>> sums;  // (block, cell): sum, rows
  int blocks = 0;
};

int cell_of(double n, double p) {
  const int a = std::clamp(static_cast<int>((std::log(n / 500)) * kCells / 2.7), 0, kCells - 1);
  const int b = std::clamp(static_cast<int>((p / 105e3) * kCells), 0, kCells - 1);
  return a * kCells + b;
}

std::vector<Block> solve(const Cellwise& c) {
  std::vector<Block> level(static_cast<std::size_t>(c.blocks));
  std::vector<double> place(kCells * kCells, 0.0);
  for (int pass = 0; pass < 60; ++pass) {
    std::vector<double> sum(place.size(), 0.0), rows(place.size(), 0.0);
    for (const auto& [key, s] : c.sums) {
      const auto k = static_cast<std::size_t>(key.second);
      sum[k] += s.first - s.second * level[static_cast<std::size_t>(key.first)].level;
      rows[k] += s.second;
    }
    for (std::size_t k = 0; k < place.size(); ++k) place[k] = rows[k] > 0 ? sum[k] / rows[k] : 0;
    std::vector<double> off(level.size(), 0.0), weight(level.size(), 0.0);
    for (const auto& [key, s] : c.sums) {
      const auto j = static_cast<std::size_t>(key.first);
      off[j] += s.first - s.second * place[static_cast<std::size_t>(key.second)];
      weight[j] += s.second;
    }
    for (std::size_t j = 0; j < level.size(); ++j) {
      level[j].level = weight[j] > 0 ? off[j] / weight[j] : 0;
      level[j].weight = weight[j];
    }
  }
  std::vector<Block> out;
  for (std::size_t j = 0; j < level.size(); ++j) {
    level[j].t = (static_cast<double>(j) + 0.5) * kBlock_s;
    if (level[j].weight > 0) out.push_back(level[j]);
  }
  return out;
}

std::vector<Block> levels_of(const Looking& l) {
  const Column* lambda = l.col(Quantity::lambda);
  const Column* target = l.col(Quantity::target);
  const Column* correction = l.col(Quantity::correction);
  const Column* speed = l.col(Quantity::rpm);
  const Column* map = l.col(Quantity::map);
  const Column* coolant = l.col(Quantity::coolant);
  const std::vector<char> settled = settled_rows(l);
  const double idle = 1.35 * l.car.sheet.wishes.idle_speed.si();
  Cellwise cells;
  double warm = coolant ? 0 : kWarming_s;
  for (std::size_t i = 0; i < l.n; ++i) {
    if (coolant && l.running[i] && (*coolant)[i] > 343) warm += l.step_s;
    // Idle and overrun read by laws of their own (dilution).
    if (!settled[i] || warm < kWarming_s || (*speed)[i] < idle || !((*map)[i] > 30e3)) continue;
    const double y =
        std::log((*lambda)[i] / (*target)[i]) + (correction ? std::log1p((*correction)[i]) : 0.0);
    if (!std::isfinite(y) || std::abs(y) > 0.6) continue;
    const int block = static_cast<int>((l.r.time_s[i] - l.r.time_s[0]) / kBlock_s);
    auto& s = cells.sums[{block, cell_of((*speed)[i], (*map)[i])}];
    s.first += y;
    s.second += 1;
    cells.blocks = std::max(cells.blocks, block + 1);
  }
  return solve(cells);
}

struct Step {
  double size = 0, sd = 1, t = 0;
  double z() const { return std::abs(size) / sd; }
};

// Weighted mean of the blocks in a span of time, and its variance by noise.
struct Side {
  double mean = 0, variance = 1, span = 0;
  int blocks = 0;
};
Side side_of(const std::vector<Block>& b, double from, double to, double noise) {
  Side s;
  double weight = 0;
  for (const Block& x : b) {
    if (x.t < from || x.t > to) continue;
    const double w = std::min(x.weight, 200.0);
    s.mean += w * x.level;
    weight += w;
    ++s.blocks;
  }
  if (weight > 0) s.mean /= weight;
  s.variance = s.blocks > 0 ? noise * noise / s.blocks : 1;
  return s;
}

Step largest_step(const std::vector<Block>& b, double noise) {
  Step best;
  for (std::size_t k = 3; k + 3 < b.size(); ++k) {
    const double t = 0.5 * (b[k].t + b[k - 1].t);
    const Side before = side_of(b, t - kSide_s, t, noise);
    const Side after = side_of(b, t, t + kSide_s, noise);
    if (before.blocks < 3 || after.blocks < 3) continue;
    const Step s{after.mean - before.mean,
                 std::sqrt(before.variance + after.variance + kWander * kWander), t};
    if (s.z() > best.z()) best = s;
  }
  return best;
}

double noise_of(const std::vector<Block>& b) {
  Column d;
  for (std::size_t k = 1; k < b.size(); ++k)
    d.push_back((b[k].level - b[k - 1].level) / std::sqrt(2.0));
  return std::max(robust_sd(d), 0.002);
}

void look_at_steps(Looking& l, const std::vector<Block>& b) {
  const double noise = noise_of(b);
  const Step step = largest_step(b, noise);
  const double minutes = b.back().t / 60;
  const double looks = std::max(1.0, b.back().t / kSide_s);
  const Evidence e = weigh_level(step.size, step.sd, kStepFaulty, looks);
  // A slow drift looks like a step to two sides: the straight line must explain clearly less.
  double st = 0, sy = 0, stt = 0, sty = 0, sw = 0;
  for (const Block& x : b) {
    const double w = std::min(x.weight, 200.0);
    sw += w;
    st += w * x.t;
    sy += w * x.level;
    stt += w * x.t * x.t;
    sty += w * x.t * x.level;
  }
  const double slope = (sty - st * sy / sw) / std::max(stt - st * st / sw, 1e-9);
  const double change = slope * (b.back().t - b.front().t);
  double line = 0, jump = 0;
  const Side before = side_of(b, -1, step.t, noise);
  const Side after = side_of(b, step.t, 1e12, noise);
  for (const Block& x : b) {
    const double w = std::min(x.weight, 200.0);
    const double a = x.level - (sy / sw + slope * (x.t - st / sw));
    const double c = x.level - (x.t < step.t ? before.mean : after.mean);
    line += w * a * a;
    jump += w * c * c;
  }
  const bool is_step = jump < 0.8 * line;
  const Grade grade = is_step ? grade_of(e, std::abs(step.size) > kGraveStep) : Grade::fine;
  l.add(Check::level_step, Quantity::lambda, grade, e,
        fmt::format("largest step of fuel against air, everywhere at once: {:+.1f} % at {:.0f} s "
                    "(+-{:.1f})",
                    100 * std::expm1(step.size), step.t, 200 * step.sd),
        static_cast<long>(b.size()));
  if (grade != Grade::fine) l.out.findings.back().from = {step.t};
  const Evidence d = weigh_level(
      change, std::hypot(kDriftSd, 2 * noise / std::sqrt(static_cast<double>(b.size()))), 0.06);
  const bool drifts = !is_step || grade == Grade::fine;
  l.add(Check::level_drift, Quantity::lambda,
        drifts && minutes > 4 ? grade_of(d, std::abs(change) > kGraveDrift) : Grade::fine, d,
        fmt::format("over {:.0f} min the level moves by {:+.1f} %", minutes,
                    100 * std::expm1(change)),
        static_cast<long>(b.size()));
}

void look_at_standing(Looking& l) {
  Column all;
  const Column* correction = l.col(Quantity::correction);
  const Column* quick = l.col(Quantity::short_trim);
  const Column* slow = l.col(Quantity::long_trim);
  if (!correction && !slow) {
    l.skip(Check::standing_correction, "neither correction nor trims recorded");
    return;
  }
  const Column* coolant = l.col(Quantity::coolant);
  for (std::size_t i = 0; i < l.n; ++i) {
    if (!l.running[i] || (coolant && (*coolant)[i] < 343)) continue;
    double c = 0;
    if (correction) c += std::log1p((*correction)[i]);
    if (!correction && quick && !std::isnan((*quick)[i])) c += std::log1p((*quick)[i]);
    if (!correction && slow) c += std::log1p((*slow)[i]);
    if (std::isfinite(c)) all.push_back(c);
  }
  if (all.size() < 100) {
    l.skip(Check::standing_correction, "too little warm running");
    return;
  }
  const double middle = median(all);
  const double low = quantile(all, 0.25);
  const double high = quantile(all, 0.75);
  const Evidence e = certain(middle);
  // Of one sign nearly everywhere; a wrong cell here and there is what estimates are for.
  const bool one_sign = (low > 0.02 && middle > 0) || (high < -0.02 && middle < 0);
  const bool much = std::abs(middle) > std::log1p(kStandingDoubt) && one_sign;
  const Column* mean_of = slow && !correction ? slow : nullptr;
  l.add(Check::standing_correction, correction ? Quantity::correction : Quantity::long_trim,
        much ? Grade::doubt : Grade::fine, e,
        fmt::format(
            "the unit corrects by {:+.1f} % all the time (half of it between {:+.1f} and {:+.1f} "
            "%){}",
            100 * std::expm1(middle), 100 * std::expm1(low), 100 * std::expm1(high),
            mean_of ? fmt::format("; long-term trim {:+.1f} % on average", 100 * mean(*mean_of))
                    : ""),
        static_cast<long>(all.size()));
}

}  // namespace

void look_at_level(Looking& l) {
  look_at_standing(l);
  const auto skip = [&](const char* why) {
    l.skip(Check::level_step, why);
    l.skip(Check::level_drift, why);
  };
  if (!l.col(Quantity::lambda) || !l.col(Quantity::target) || !l.col(Quantity::map)) {
    return skip("needs mixture, its target and manifold pressure");
  }
  if (!l.timed || !l.fast) return skip("rows too far apart, or no time");
  const std::vector<Block> b = levels_of(l);
  if (b.size() < 9) return skip("fewer than 3 minutes of steady, warm driving");
  look_at_steps(l, b);
}

}  // namespace fuelwright::advice
