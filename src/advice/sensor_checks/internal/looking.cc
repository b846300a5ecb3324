#include "advice/sensor_checks/internal/looking.h"

#include <algorithm>
#include <cmath>

#include "advice/sensor_checks/internal/numbers.h"

namespace fuelwright::advice {

using signals::Pace;
using signals::Quantity;

namespace {

constexpr double kFastStep_s = 0.26;
constexpr double kNoPulse_s = 1e-4;
constexpr double kTurning_rpm = 400;
constexpr double kSameRow = 1.5;

// What counts is when speed, load and mixture are read. A correction or a temperature may step
// rarely because the unit changes it rarely.
bool renewed_in_turn(const signals::Recording& r) {
  for (const Quantity q : {Quantity::rpm, Quantity::map, Quantity::throttle, Quantity::lambda,
                           Quantity::pulse_width, Quantity::maf}) {
    const signals::Channel* c = r.find(q);
    if (c && c->refresh.change_share > 0 && c->refresh.rows.value_or(1) > kSameRow) return true;
  }
  return false;
}

}  // namespace

Looking::Looking(const signals::Recording& recording, const CheckedCar& known)
    : r(recording), car(known), n(recording.rows) {
  out.masks = Masks(n);
  ordered = r.pace != Pace::unordered;
  timed = (r.pace == Pace::timed || r.pace == Pace::stated_rate) && r.time_s.size() == n;
  if (timed) {
    Column steps;
    for (const signals::Segment& s : r.segments) {
      for (std::size_t i = s.first + 1; i < s.last; ++i) {
        steps.push_back(r.time_s[i] - r.time_s[i - 1]);
      }
    }
    step_s = median(std::move(steps));
    if (!(step_s > 0)) step_s = r.row_step ? r.row_step->si : 0;
  }
  polled = r.simultaneity == signals::Simultaneity::polled_in_turn && renewed_in_turn(r);
  fast = ordered && step_s > 0 && step_s <= kFastStep_s && !polled;
  place = place_pressure(car.weather, car.sheet, &r, car.units);
  running.assign(n, 0);
  cut.assign(n, 0);
  since_cut_s.assign(n, 1e3F);
  const Column* speed = col(Quantity::rpm);
  const Column* pulse = col(Quantity::pulse_width);
  has_pulse = pulse != nullptr;
  const double least = std::max(kTurning_rpm, 0.5 * car.sheet.wishes.idle_speed.si());
  double since = 1e3;
  for (std::size_t i = 0; i < n; ++i) {
    running[i] = speed && (*speed)[i] > least;
    cut[i] = running[i] && pulse && (*pulse)[i] < kNoPulse_s;
    since = cut[i] ? 0 : since + step_s;
    since_cut_s[i] = static_cast<float>(since);
    running_s += running[i] ? (step_s > 0 ? step_s : 1) : 0;
  }
}

const Column* Looking::col(Quantity q, int bank) const {
  const signals::Channel* c = r.find(q, bank);
  return c && c->converted ? &c->si : nullptr;
}

std::size_t Looking::rows_of(double s) const {
  if (!(step_s > 0)) return 1;
  return static_cast<std::size_t>(std::max(1.0, std::ceil(s / step_s)));
}

Finding& Looking::add(Check check, Quantity sensor, Grade grade, const Evidence& evidence,
                      std::string seen, long count, std::size_t first, std::size_t last, int bank) {
  const CheckWords& w = words_of(check);
  Finding f;
  f.check = check;
  f.sensor = sensor;
  f.bank = bank;
  f.grade = grade;
  f.seen = std::move(seen);
  f.count = count;
  f.evidence = evidence;
  if (timed && last > first) f.from = {r.time_s[first]};
  f.seconds =
      static_cast<double>(count ? count : static_cast<long>(last - first)) * step_s * second;
  f.why = w.why;
  f.what_to_do = grade == Grade::fine ? "Nothing." : w.what_to_do;
  out.findings.push_back(std::move(f));
  return out.findings.back();
}

void Looking::skip(Check check, std::string because) {
  out.not_checked.push_back({check, std::move(because)});
}

namespace {

std::string with_sign(double si, Kind kind, UnitSystem units) {
  return (si < 0 ? "-" : "+") + format(std::abs(si), kind, units, 2);
}

}  // namespace

std::string Looking::pressure(double pa, int digits) const {
  return format(pa, Kind::pressure_step, car.units, digits);
}
std::string Looking::pressure_off(double pa) const {
  return with_sign(pa, Kind::pressure_step, car.units);
}
std::string Looking::temperature(double k) const {
  return format(k, Kind::temperature, car.units, 3);
}
std::string Looking::warmth_off(double k) const {
  return with_sign(k, Kind::temperature_step, car.units);
}

Grade grade_of(const Evidence& e, bool grave) {
  if (!sure(e)) return Grade::fine;
  return grave ? Grade::stop : Grade::doubt;
}

double spread(const Column& c, std::size_t a, std::size_t b) {
  double low = INFINITY;
  double high = -INFINITY;
  for (std::size_t i = a; i <= b && i < c.size(); ++i) {
    if (std::isnan(c[i])) continue;
    low = std::min(low, c[i]);
    high = std::max(high, c[i]);
  }
  return high > low ? high - low : 0.0;
}

double log_spread(const Column& c, std::size_t a, std::size_t b) {
  double low = INFINITY;
  double high = 0;
  for (std::size_t i = a; i <= b && i < c.size(); ++i) {
    if (!(c[i] > 0)) continue;
    low = std::min(low, c[i]);
    high = std::max(high, c[i]);
  }
  return high > low ? std::log(high / low) : 0.0;
}

}  // namespace fuelwright::advice
