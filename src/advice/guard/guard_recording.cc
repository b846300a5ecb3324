#include "advice/guard/guard_recording.h"

#include <fmt/format.h>

#include <algorithm>

namespace fuelwright::advice {
namespace {

using signals::Channel;
using signals::Pace;
using signals::Quantity;
using signals::Recording;

std::string small(std::string_view text) {
  std::string s(text);
  std::ranges::transform(s, s.begin(), [](unsigned char c) { return std::tolower(c); });
  return s;
}

// Quantities that the list of channels does not have: by header and kind of unit.
const Channel* named(const Recording& r, std::string_view one, std::string_view two,
                     std::initializer_list<Kind> kinds) {
  for (const Channel& c : r.channels) {
    if (c.what != Quantity::other || !c.converted) continue;
    const std::string header = small(c.header);
    if (header.find(one) == std::string::npos || header.find(two) == std::string::npos) continue;
    if (std::ranges::find(kinds, c.kind) != kinds.end()) return &c;
  }
  return nullptr;
}

void say_what_is_watched(GuardReport& out, const Rules& rules, SignalSet has, bool timed) {
  const auto present = [&](Signal s) { return has.test(static_cast<std::size_t>(s)); };
  const auto missing = [&](RuleKind kind) -> const char* {
    using S = Signal;
    switch (kind) {
      case RuleKind::lean_under_load:
        return !present(S::lambda) ? "no mixture sensor recorded"
               : !present(S::map)  ? "no manifold pressure recorded"
                                   : nullptr;
      case RuleKind::knock:
        return present(S::knock) ? nullptr : "not recorded";
      case RuleKind::fuel_pressure:
        return present(S::fuel_pressure) ? nullptr : "not recorded";
      case RuleKind::duty:
        return present(S::duty) || (present(S::pulse_width) && present(S::rpm)) ? nullptr
                                                                                : "not recorded";
      case RuleKind::coolant:
        return present(S::coolant) ? nullptr : "not recorded";
      case RuleKind::oil_pressure:
        return present(S::oil_pressure) ? nullptr : "not recorded";
      case RuleKind::intake_temperature:
        return present(S::intake_air) ? nullptr : "not recorded";
      case RuleKind::battery_low:
      case RuleKind::battery_high:
        return present(S::battery) ? nullptr : "not recorded";
      case RuleKind::overspeed:
        return present(S::rpm) ? nullptr : "not recorded";
      case RuleKind::over_pressure:
        return present(S::map) ? nullptr : "not recorded";
      default:
        return nullptr;
    }
  };
  for (const Rule& r : rules.list) {
    const char* label = words_of(r.kind).label;
    const char* lacks = missing(r.kind);
    if (!r.on) {
      out.not_watched.push_back(fmt::format("{}: switched off", label));
    } else if (!timed) {
      out.not_watched.push_back(fmt::format("{}: the recording has no time", label));
    } else if (lacks) {
      out.not_watched.push_back(fmt::format("{}: {}", label, lacks));
    } else {
      out.watched.emplace_back(label);
    }
  }
}

}  // namespace

Moments::Moments(const Recording& r) : recording_(&r) {
  using S = Signal;
  const auto put = [&](S s, const Channel* c) {
    if (!c) return;
    channel_[static_cast<std::size_t>(s)] = c;
    set_.set(static_cast<std::size_t>(s));
  };
  put(S::rpm, r.find(Quantity::rpm));
  put(S::map, r.find(Quantity::map));
  put(S::lambda, r.find(Quantity::lambda));
  put(S::lambda_2, r.find(Quantity::lambda, 2));
  put(S::pulse_width, r.find(Quantity::pulse_width));
  put(S::duty, r.find(Quantity::duty));
  put(S::coolant, r.find(Quantity::coolant));
  put(S::intake_air, r.find(Quantity::intake_air));
  put(S::battery, r.find(Quantity::battery));
  put(S::fuel_pressure, r.find(Quantity::fuel_pressure));
  put(S::throttle, r.find(Quantity::throttle));
  put(S::ambient, r.find(Quantity::baro));
  put(S::oil_pressure, named(r, "oil", "p", {Kind::gauge_pressure, Kind::pressure_step}));
  put(S::knock, named(r, "knock", "", {Kind::crank_angle, Kind::angle}));
}

void Moments::get(std::size_t row, Moment& into) const {
  into.seconds = recording_->time_s[row];
  for (std::size_t i = 0; i < channel_.size(); ++i) {
    into.si[i] = channel_[i] ? channel_[i]->si[row] : NAN;
  }
}

GuardReport guard_recording(const Recording& r, const Rules& rules, const car::Sheet& sheet) {
  GuardReport out;
  const Moments moments(r);
  const bool timed = (r.pace == Pace::timed || r.pace == Pace::stated_rate) && !r.time_s.empty();
  say_what_is_watched(out, rules, moments.signals(), timed);
  if (!timed) return out;
  Guard guard(rules, GuardedCar::of(sheet), moments.signals());
  Moment now;
  double last = NAN;
  const auto take = [&](std::span<const Firing> firings) {
    for (const Firing& f : firings) {
      if (f.over) out.firings.push_back(f);
    }
  };
  for (std::size_t i = 0; i < r.rows; ++i) {
    moments.get(i, now);
    if (std::isnan(now.seconds)) continue;
    if (now.seconds > last) out.seconds += std::min(now.seconds - last, 3.0);
    if (now.seconds < last) take(guard.finish());
    last = now.seconds;
    take(guard.step(now));
  }
  take(guard.finish());
  std::ranges::stable_sort(out.firings, {}, [](const Firing& f) { return f.began.si; });
  return out;
}

}  // namespace fuelwright::advice
