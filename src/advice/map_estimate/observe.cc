#include "advice/map_estimate/observe.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace fuelwright::advice {
namespace {

using signals::Channel;
using signals::Pace;
using signals::Quantity;

constexpr double kMovingStep_s = 0.5;  // rows closer than this show the engine moving between them

// Wall film and transport delay make a reading belong to the last moment or so: what moved in it
// makes it doubtful.
constexpr double kWindowBack_s = 0.8;
constexpr double kWindowAhead_s = 0.2;
constexpr double kStretch_s = 60;  // drift is one value a minute
constexpr int kMostStretches = 120;

struct WayRow {
  Way way;
  const char* name;
  const char* text;
};
constexpr std::array<WayRow, 4> kWays{{
    {Way::correction, "correction", "mixture against target with the closed-loop correction"},
    {Way::pulse_width, "pulse-width", "mixture with the injectors' pulse width"},
    {Way::trims, "trims", "the unit's own fuel trims"},
    {Way::metered_air, "air", "metered air"},
}};
const WayRow& row_of(Way way) {
  for (const WayRow& r : kWays) {
    if (r.way == way) return r;
  }
  broken_contract("a way of the list", __FILE__, __LINE__);
}

}  // namespace

const char* name_of(Way way) { return row_of(way).name; }
const char* describe(Way way) { return row_of(way).text; }
bool is_relative(Way way) { return way == Way::correction || way == Way::trims; }
double level_sd(Way way) {
  switch (way) {
    case Way::correction:
    case Way::trims:
      return 0;
    case Way::pulse_width:
      return 0.02;
    case Way::metered_air:
      return 0.04;
  }
  broken_contract("a way of the list", __FILE__, __LINE__);
}

Result<Way> way_named(std::string_view name) {
  for (const WayRow& r : kWays) {
    if (name == r.name) return r.way;
  }
  return Error{ErrorCode::usage, "--from",
               fmt::format("\"{}\" came; expected correction, pulse-width, trims or air", name)};
}

// ---- what the recording has
// ----------------------------------------------------------------------------------------

Observer::Channels Observer::channels_of(const signals::Recording& r) {
  Channels c;
  c.rpm = r.find(Quantity::rpm);
  c.map = r.find(Quantity::map);
  c.throttle = r.find(Quantity::throttle);
  c.coolant = r.find(Quantity::coolant);
  c.intake_air = r.find(Quantity::intake_air);
  c.lambda = r.find(Quantity::lambda);
  c.target = r.find(Quantity::target);
  c.correction = r.find(Quantity::correction);
  c.pulse_width = r.find(Quantity::pulse_width);
  c.battery = r.find(Quantity::battery);
  c.short_trim = r.find(Quantity::short_trim);
  c.long_trim = r.find(Quantity::long_trim);
  c.maf = r.find(Quantity::maf);
  c.baro = r.find(Quantity::baro);
  c.commanded = r.find(Quantity::commanded_ratio);
  if (c.commanded && c.commanded->constant) c.commanded = nullptr;  // carries nothing
  return c;
}

Observer::Observer(const signals::Recording& recording, const car::Sheet& sheet,
                   const car::Surface& table, const ObserveOptions& options)
    : recording_(&recording),
      sheet_(&sheet),
      table_(&table),
      options_(options),
      dilution_(Dilution::of(sheet)),
      c_(channels_of(recording)) {}

std::string Observer::missing_for(Way way) const {
  std::string missing;
  const auto need = [&](const Channel* channel, const char* what) {
    if (channel) return;
    if (!missing.empty()) missing += ", ";
    missing += what;
  };
  need(c_.rpm, "engine speed");
  if (table_->grid.y.kind() == car::AxisKind::throttle) need(c_.throttle, "throttle");
  switch (way) {
    case Way::correction:
      need(c_.lambda, "a mixture sensor");
      need(c_.target, "the mixture target");
      break;
    case Way::pulse_width:
      need(c_.lambda, "a mixture sensor");
      need(c_.pulse_width, "the pulse width");
      need(c_.map, "MAP");
      need(c_.intake_air, "intake air temperature");
      break;
    case Way::trims:
      need(c_.short_trim ? c_.short_trim : c_.long_trim, "fuel trims");
      break;
    case Way::metered_air:
      need(c_.maf, "metered air");
      need(c_.map, "MAP");
      need(c_.intake_air, "intake air temperature");
      break;
  }
  if (table_->grid.y.kind() != car::AxisKind::throttle && !c_.map &&
      missing.find("MAP") == std::string::npos) {
    need(c_.map, "MAP");
  }
  return missing;
}

Status Observer::choose_way() {
  const std::string& name = recording_->name;
  if (options_.way) {
    way_ = *options_.way;
    if (const auto missing = missing_for(way_); !missing.empty()) {
      return Error{ErrorCode::not_found, name,
                   fmt::format("cannot learn from {}: {} not recorded", describe(way_), missing)};
    }
  } else {
    bool found = false;
    for (const WayRow& r : kWays) {
      if (!missing_for(r.way).empty()) continue;
      way_ = r.way;
      found = true;
      // Without the correction, the pulse width is the better witness.
      if (way_ == Way::correction && !c_.correction && !options_.open_loop &&
          missing_for(Way::pulse_width).empty()) {
        continue;
      }
      break;
    }
    if (!found) {
      return Error{ErrorCode::not_found, name,
                   fmt::format("nothing in it teaches a fuel table: for {} it lacks {}; for {} it "
                               "lacks {}",
                               describe(Way::correction), missing_for(Way::correction),
                               describe(Way::metered_air), missing_for(Way::metered_air))};
    }
  }
  if (way_ == Way::correction && !c_.correction && !options_.open_loop) {
    return Error{
        ErrorCode::needs_answer, name,
        "neither the closed-loop correction nor the pulse width is recorded; say --open-loop "
        "if the unit ran without correction, otherwise record one of them"};
  }
  return Done{};
}

// Engine speed cannot roam while the manifold pressure stands still.
Status Observer::check_map_moves() const {
  constexpr double kRoams = 0.3;  // ln of highest over lowest speed
  if (!c_.map || !c_.rpm || !c_.map->constant || table_->grid.y.kind() == car::AxisKind::throttle)
    return Done{};
  double low = 1e300;
  double high = 0;
  for (const double n : c_.rpm->si) {
    if (!(n > 400)) continue;
    low = std::min(low, n);
    high = std::max(high, n);
  }
  if (!(high > 0) || std::log(high / low) < kRoams) return Done{};
  return Error{ErrorCode::bad_input, recording_->name,
               fmt::format("MAP stands still at {} while engine speed moves from {:.0f} to {:.0f} "
                           "rpm: the sensor or "
                           "its channel is stuck, nothing is learned from it",
                           format(c_.map->si.front(), Kind::absolute_pressure, UnitSystem::metric),
                           low, high)};
}

Result<Observer> Observer::make(const signals::Recording& recording, const car::Sheet& sheet,
                                const car::Surface& table, const ObserveOptions& options) {
  Observer o(recording, sheet, table, options);
  FW_CHECK(o.choose_way());
  FW_CHECK(o.check_map_moves());
  o.find_moving();
  o.walk(
      [&](std::size_t, const Sample& s) {
        o.seconds_used_ += s.seconds;
        o.runs_ = std::max(o.runs_, s.run + 1);
        o.stretches_ = std::max(o.stretches_, s.stretch + 1);
      },
      &o.set_aside_);
  o.seconds_total_ = o.seconds_used_;
  for (const SetAside& a : o.set_aside_) o.seconds_total_ += a.seconds;
  if (!o.c_.coolant) o.notes_.emplace_back("no coolant temperature: warm-up cannot be set aside");
  if (is_relative(o.way_) && !o.c_.intake_air) {
    o.notes_.emplace_back("no intake air temperature: heat soak cannot be seen");
  }
  return o;
}

namespace {

// "+14.4 %" of a relative channel, gaps left out.
std::string mean_text(const Channel* channel) {
  if (!channel) return "not recorded";
  double sum = 0;
  long n = 0;
  for (const double v : channel->si) {
    if (std::isnan(v)) continue;
    sum += v;
    ++n;
  }
  return n == 0 ? "empty" : fmt::format("{:+.1f} %", 100 * sum / static_cast<double>(n));
}

}  // namespace

std::string Observer::how() const {
  switch (way_) {
    case Way::correction:
      return c_.correction
                 ? "measured mixture against its target, closed-loop correction added back"
                 : "measured mixture against its target, unit running open loop";
    case Way::pulse_width:
      return fmt::format(
          "air from pulse width and mixture ({}, dead time {:.2f} ms)",
          format(sheet_->injection.injector_flow.si(), Kind::mass_flow, UnitSystem::us),
          1e3 * sheet_->injection.dead_time.si());
    case Way::trims:
      return fmt::format("the unit's fuel trims: long-term {}, short-term {} on average",
                         mean_text(c_.long_trim), mean_text(c_.short_trim));
    case Way::metered_air:
      return fmt::format(
          "metered air over displacement ({}) at intake air temperature",
          format(sheet_->engine.displacement.si(), Kind::volume, UnitSystem::metric));
  }
  broken_contract("a way of the list", __FILE__, __LINE__);
}

// ---- how much the engine was moving
// --------------------------------------------------------------------------------

namespace {

// Spread of ln v over rows [a, b] of a channel.
double log_spread(const Channel& channel, std::size_t a, std::size_t b) {
  double low = 1e300;
  double high = -1e300;
  for (std::size_t i = a; i <= b; ++i) {
    const double v = channel.si[i];
    if (std::isnan(v) || v <= 0) continue;
    low = std::min(low, v);
    high = std::max(high, v);
  }
  return high > low ? std::log(high / low) : 0.0;
}

}  // namespace

void Observer::find_moving() {
  moving_.assign(recording_->rows, 0.0F);
  if (recording_->pace == Pace::unordered) return;
  const Channel* load = c_.map ? c_.map : c_.throttle;
  const double step = recording_->row_step ? recording_->row_step->si : 0.0;
  const bool fast = step > 0 && step <= kMovingStep_s;
  const auto rows_of = [&](double s) {
    if (fast) return static_cast<std::size_t>(std::ceil(s / step));
    // Held values look steady until their next poll: look one whole round away.
    return static_cast<std::size_t>(std::max(1.0, std::ceil(recording_->round_rows)));
  };
  const std::size_t back = rows_of(kWindowBack_s);
  const std::size_t ahead = rows_of(kWindowAhead_s);
  for (const signals::Segment& segment : recording_->segments) {
    for (std::size_t i = segment.first; i < segment.last; ++i) {
      const std::size_t a = i >= segment.first + back ? i - back : segment.first;
      const std::size_t b = std::min(i + ahead, segment.last - 1);
      double moved = log_spread(*load, a, b);
      if (c_.rpm) moved = std::max(moved, log_spread(*c_.rpm, a, b));
      moving_[i] = static_cast<float>(moved);
    }
  }
}

double Observer::seconds_of_row() const {
  return recording_->row_step && recording_->pace != Pace::unordered ? recording_->row_step->si
                                                                     : 1.0;
}

// ---- the walk over the rows
// ----------------------------------------------------------------------------------------

void Observer::walk(const std::function<void(std::size_t, const Sample&)>& f,
                    std::vector<SetAside>* aside) const {
  const double seconds = seconds_of_row();
  const double total_s = seconds * static_cast<double>(recording_->rows);
  const double stretch_s = std::max(kStretch_s, total_s / kMostStretches);
  const bool timed = !recording_->time_s.empty();
  int run = 0;
  int stretch = 0;
  for (const signals::Segment& segment : recording_->segments) {
    double free_air_until = -1;
    const double start_s = timed ? recording_->time_s[segment.first] : 0.0;
    int last_stretch = 0;
    for (std::size_t i = segment.first; i < segment.last; ++i) {
      const char* reason = unusable(i, free_air_until);
      Sample s;
      if (!reason) {
        s.at = point_at(i);
        const auto y = y_at(i, s.at);
        if (!y || !std::isfinite(*y)) {
          reason = "a needed value is missing";
        } else if (std::abs(*y) > 1.5) {
          reason = "the reading cannot be (more than four times off the table)";
        } else {
          s.y = *y;
        }
      }
      if (reason) {
        if (!aside) continue;
        auto it = std::find_if(aside->begin(), aside->end(),
                               [&](const SetAside& a) { return a.reason == reason; });
        if (it == aside->end()) it = aside->insert(aside->end(), SetAside{reason, 0, 0});
        ++it->rows;
        it->seconds += seconds;
        continue;
      }
      s.sd = noise_at(i, s.at);
      s.warmth = is_relative(way_) ? 0.0 : warmth_at(i);
      s.seconds = seconds;
      s.run = run;
      if (timed && !std::isnan(recording_->time_s[i])) {
        last_stretch = static_cast<int>((recording_->time_s[i] - start_s) / stretch_s);
      }
      s.stretch = stretch + std::max(0, last_stretch);
      s.row = i;
      f(i, s);
    }
    ++run;
    stretch += last_stretch + 1;
  }
}

void Observer::each(int instrument, int first_run, int first_stretch,
                    const std::function<void(const Sample&)>& f) const {
  walk(
      [&](std::size_t, const Sample& found) {
        Sample s = found;
        s.instrument = instrument;
        s.run += first_run;
        s.stretch += first_stretch;
        f(s);
      },
      nullptr);
}

}  // namespace fuelwright::advice
