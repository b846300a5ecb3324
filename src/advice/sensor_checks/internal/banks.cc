// Two banks with a sensor each.
#include <fmt/format.h>

#include <cmath>

#include "advice/sensor_checks/internal/air.h"
#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {
namespace {

using signals::Quantity;

constexpr double kSound = 0.011;  // 1 sd of sound engines: cylinders, injectors and two sensors
constexpr double kApart = 0.06;
constexpr double kFarApart = 0.10;

}  // namespace

void look_at_banks(Looking& l) {
  const Column* one = l.col(Quantity::lambda, 1);
  const Column* two = l.col(Quantity::lambda, 2);
  if (!one || !two) {
    l.skip(Check::banks, "one mixture sensor");
    return;
  }
  const std::vector<char> settled = settled_rows(l, 0.25, 0.15);
  Column d;
  for (std::size_t i = 0; i < l.n; ++i) {
    if (settled[i] && l.out.masks.usable(i, {Quantity::lambda}, 1) &&
        l.out.masks.usable(i, {Quantity::lambda}, 2)) {
      d.push_back(std::log((*one)[i] / (*two)[i]));
    }
  }
  if (static_cast<double>(d.size()) * std::max(l.step_s, 0.02) < 20) {
    l.skip(Check::banks, "less than 20 s of steady, warm driving");
    return;
  }
  const double middle = median(d);
  const Evidence e = weigh_level(middle, kSound, kApart);
  l.add(Check::banks, Quantity::lambda, grade_of(e, std::abs(middle) > kFarApart), e,
        fmt::format(
            "bank 1 reads {:+.1f} % leaner than bank 2 (sound engines within \xC2\xB1{:.1f} %)",
            100 * std::expm1(middle), 200 * kSound),
        static_cast<long>(d.size()));
}

}  // namespace fuelwright::advice
