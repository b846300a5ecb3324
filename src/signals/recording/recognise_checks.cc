#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/units/number.h"
#include "signals/recording/internal/recogniser.h"

namespace fuelwright::signals {

namespace {

using Q = Quantity;

constexpr double kDoubtful = 0.25;      // confidence left when the behaviour contradicts the name
constexpr double kOutsideShare = 0.01;  // of the values may lie outside what can be (spikes)
constexpr double kCloseSecond = 0.12;   // a second candidate this near makes two

}  // namespace

const Work* Recogniser::best(Q what) const {
  const Work* found = nullptr;
  for (const Work& w : work_) {
    if (w.guess.what == what && w.unit &&
        (found == nullptr || w.guess.confidence > found->guess.confidence))
      found = &w;
  }
  return found;
}

Column Recogniser::companion(Q what) const {
  const Work* w = best(what);
  return w == nullptr ? Column{} : Column{&w->column->value, w->unit->factor};
}

void Recogniser::weigh_behaviour(Work& w) {
  if (w.guess.what == Q::other || w.stats.filled == 0 || w.stats.constant) return;
  Companions with{companion(Q::rpm), companion(Q::map), companion(Q::throttle), companion(Q::speed),
                  companion(Q::engine_load)};
  const Column own{&w.column->value, w.unit ? w.unit->factor : 1};
  const Evidence e = behaviour_of(w.guess.what, own, with);
  w.guess.reason = join(w.guess.reason, e.reason);
  if (w.guess.answered) return;
  w.guess.confidence = 1 - (1 - w.guess.confidence) * e.doubt;
  if (e.against.empty()) return;
  w.guess.confidence = std::min(w.guess.confidence, kDoubtful);
  w.guess.reason = join(w.guess.reason, e.against);
  if (w.guess.what == Q::time || w.guess.what == Q::run_time) {
    be_other(w, "so it was not taken for time");
  } else if (info(w.guess.what).needed && !w.asked) {
    std::vector<std::string> options{w.guess.unit};
    if (w.guess.what == Q::map) options.emplace_back("inHg vacuum");
    ask(w, e.against + ", which speaks against " + info(w.guess.what).label, options);
  }
}

Status Recogniser::check_range(Work& w) {
  if (!w.unit || w.guess.what == Q::other || carries_nothing(w)) return Done{};
  const QuantityInfo& q = info(w.guess.what);
  FW_CHECK(check_mixture(w));
  const auto [low, high] = std::minmax({w.unit->si(w.stats.lowest), w.unit->si(w.stats.highest)});
  const bool crosses_zero = w.unit->reciprocal && w.stats.lowest <= 0 && w.stats.highest >= 0;
  if (low >= q.lowest && high <= q.highest && !crosses_zero) return Done{};
  std::size_t outside = 0;
  std::size_t first = 0;
  for (std::size_t i = 0; i < w.column->value.size(); ++i) {
    const double v = w.column->value[i];
    if (std::isnan(v)) continue;
    const double si = w.unit->si(v);
    if (si >= q.lowest && si <= q.highest) continue;
    if (outside++ == 0) first = i;
  }
  if (outside == 0) return Done{};
  const std::string found =
      fmt::format("{:.6g} {} came on {} {}; {} lies within {} to {}", w.column->value[first],
                  w.unit->text, table_.row_word, table_.line_of(first), q.label,
                  limit(*w.unit, q.lowest), limit(*w.unit, q.highest));
  const double share = static_cast<double>(outside) / static_cast<double>(w.stats.filled);
  if (share <= kOutsideShare) {
    warnings_.push_back(fmt::format("\"{}\": {} of {} values cannot be ({})", w.guess.header,
                                    outside, w.stats.filled, found));
  } else if (w.guess.answered) {
    return Error{ErrorCode::out_of_range, where(w), found};
  } else if (q.needed) {
    ask(w, found, {});
  } else {
    be_other(w, found);
  }
  return Done{};
}

// A sensor that warms up or a fuel cut may read anything, but not most of the time.
Status Recogniser::check_mixture(Work& w) {
  constexpr double kRichest = 0.5;
  constexpr double kLeanest = 2.0;
  if (w.guess.what != Q::lambda && w.guess.what != Q::target) return Done{};
  const double mid = w.unit->si(w.stats.mid);
  if (mid >= kRichest && mid <= kLeanest) return Done{};
  const std::string found =
      fmt::format("its median {:.4g} would be lambda {:.3g} in {}; expected {} to {}", w.stats.mid,
                  mid, w.unit->text, kRichest, kLeanest);
  if (w.guess.answered) return Error{ErrorCode::out_of_range, where(w), found};
  ask(w, found, {"lambda", "afr CONSTANT"});
  return Done{};
}

std::string Recogniser::limit(const ColumnUnit& unit, double si) {
  return fmt::format("{:.5g}", unit.reciprocal ? 1 / si : (si - unit.offset) / unit.factor);
}

void Recogniser::find_twins() {
  for (std::size_t i = 0; i < work_.size(); ++i) {
    for (std::size_t k = i + 1; k < work_.size(); ++k) {
      Work& a = work_[i];
      Work& b = work_[k];
      if (a.guess.what != b.guess.what || a.guess.bank != b.guess.bank ||
          !info(a.guess.what).needed)
        continue;
      if (a.asked || b.asked || a.guess.confidence < kSure || b.guess.confidence < kSure) continue;
      if (carries_nothing(b) && !carries_nothing(a)) {
        be_other(b, "another column moves");
        continue;
      }
      if (carries_nothing(a) && !carries_nothing(b)) {
        be_other(a, "another column moves");
        break;
      }
      if (a.guess.answered != b.guess.answered) {
        be_other(a.guess.answered ? b : a, "another column was named for it");
        if (b.guess.answered) break;
        continue;
      }
      Question q{
          b.guess.header,
          fmt::format("it and \"{}\" both look like {}", a.guess.header, info(a.guess.what).label),
          {}};
      q.options.push_back(option(b, Q::other, ""));
      q.options.push_back(option(a, Q::other, ""));
      questions_.push_back(std::move(q));
      b.asked = true;
    }
  }
}

void Recogniser::ask_if_unsure(Work& w) {
  if (w.asked || w.guess.answered || w.guess.what == Q::other || carries_nothing(w)) return;
  if (w.by_unit) w.guess.confidence = std::min(w.guess.confidence, kUnitAlone);
  const NameGuess* second = nullptr;
  for (const NameGuess& c : w.candidates) {
    if (c.what != w.guess.what && c.words >= w.candidates.front().words &&
        (second == nullptr || c.confidence > second->confidence))
      second = &c;
  }
  const bool close =
      second != nullptr && w.candidates.front().confidence - second->confidence < kCloseSecond &&
      w.guess.confidence < 0.95 && (info(second->what).needed || info(w.guess.what).needed);
  if (w.guess.confidence >= kSure && !close) return;
  const bool needed = info(w.guess.what).needed && w.guess.confidence >= kDoubtful;
  if (!close && (!needed || taken(w.guess.what))) {
    if (w.guess.confidence < kSure)
      be_other(w, fmt::format("too unsure to be taken for {}", info(w.guess.what).label));
    return;
  }
  Question q{w.guess.header,
             fmt::format("it may be {} ({})", info(w.guess.what).label, w.guess.reason),
             {}};
  if (close) q.unclear += fmt::format(", or {} ({})", info(second->what).label, second->reason);
  q.options.push_back(option(w, w.guess.what, w.guess.unit));
  if (close) q.options.push_back(option(w, second->what, ""));
  q.options.push_back(option(w, Q::other, ""));
  questions_.push_back(std::move(q));
  w.asked = true;
}

Option Recogniser::option(const Work& w, Q what, const std::string& unit) {
  const std::string tail = unit.empty() ? "" : ":" + unit;
  return {fmt::format("--channel \"{}={}{}\"", w.guess.header, info(what).name, tail),
          unit.empty() ? info(what).label : fmt::format("{} in {}", info(what).label, unit)};
}

void Recogniser::ask(Work& w, const std::string& unclear, const std::vector<std::string>& units) {
  if (w.asked) return;
  Question q{w.guess.header, unclear, {}};
  for (const std::string& u : units) q.options.push_back(option(w, w.guess.what, u));
  q.options.push_back(option(w, Q::other, ""));
  questions_.push_back(std::move(q));
  w.asked = true;
}

}  // namespace fuelwright::signals
