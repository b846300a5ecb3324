// The level of the mixture over time: steps, drift, and what the unit corrects all along.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/sensor_checks/internal/levels.h"
#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

constexpr double kLevelOff = 0.06;  // of such steps and drifts
constexpr double kGraveStep = 0.15;
constexpr double kPlaces_s = 120;  // so far apart, two steps are independent looks
constexpr std::size_t kLeastBlocks = 9;
constexpr double kStandingDoubt = 0.10;

// One recording has one change at most to say; whichever shape says more.
void look_at_changes(Looking& l, const Levels& levels, int bank) {
  const Changes changes(levels);
  const auto step = changes.strongest_step();
  const Change line = changes.line();
  const double looks = std::max(1.0, levels.last() / kPlaces_s);
  const auto blocks = static_cast<long>(levels.t.size());
  const Evidence e =
      step ? weigh_level(step->size, step->sd, kLevelOff, looks) : weigh_level(0, 1, kLevelOff);
  const Evidence d = weigh_level(line.size, line.sd, kLevelOff);
  const bool is_step = e.ln_ratio > d.ln_ratio;
  const Change at = step.value_or(Change{});
  const Grade grade = is_step ? grade_of(e, std::abs(at.size) > kGraveStep) : Grade::fine;
  l.add(Check::level_step, Quantity::lambda, grade, e,
        fmt::format("largest step of fuel against air, everywhere at once: {:+.1f} % at {:.0f} s "
                    "(\xC2\xB1{:.1f})",
                    100 * std::expm1(at.size), at.t, 200 * at.sd),
        blocks, 0, 0, bank);
  if (grade != Grade::fine) l.out.findings.back().from = {at.t};
  l.add(Check::level_drift, Quantity::lambda,
        is_step ? Grade::fine : grade_of(d, std::abs(line.size) > kGraveStep), d,
        fmt::format("over {:.0f} min the level moves by {:+.1f} % (\xC2\xB1{:.1f})",
                    levels.last() / 60, 100 * std::expm1(line.size), 200 * line.sd),
        blocks, 0, 0, bank);
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
  bool any = false;
  for (const int bank : {1, 2}) {
    const auto levels = levels_of(l, bank, kLeastBlocks);
    any = any || levels;
    if (levels) look_at_changes(l, *levels, bank);
  }
  if (!any) skip("fewer than 3 minutes of steady, warm driving");
}

}  // namespace fuelwright::advice
