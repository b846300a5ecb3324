#include "service/estimate_words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "service/report/words.h"

namespace fuelwright::service {
namespace {

constexpr double k95 = 1.959964;

std::string name_of_table(car::TableWhat what) {
  return what == car::TableWhat::ve ? "VE" : "the correction";
}

// ---- disagreement
// ------------------------------------------------------------------------------

// A recording's weighted mean distance from the joint answer.
struct Distance {
  std::size_t listed = 0;
  double sum = 0;
  double weight = 0;
  double mean() const { return weight > 0 ? sum / weight : 0.0; }
};

void measure(const std::deque<Speaker>& speakers, const Task& task, const advice::MapEstimate& e,
             std::vector<Distance>& out) {
  for (const Speaker& s : speakers) {
    Distance d{s.listed};
    const auto k = static_cast<std::size_t>(s.instrument);
    const double level = k < e.instrument_level.size() ? e.instrument_level[k] : 0.0;
    s.observer.each(s.instrument, 0, 0, [&](const advice::Sample& in) {
      double y = in.y;
      if (s.driven) y += std::log(s.driven->at(in.at) / task.start.at(in.at));
      const double w = 1 / (in.sd * in.sd);
      d.sum += w * (y - level - e.at(in.at, in.warmth).ln);
      d.weight += w;
    });
    out.push_back(d);
  }
}

// ---- dynamics
// ----------------------------------------------------------------------------------

// A row of low or of high flow among those that teach.
struct Typical {
  double rpm = 0;
  double gas_kg_s = 0;  // past the sensor
};

std::optional<Typical> typical(std::span<const advice::Driving> drives, double quantile) {
  std::vector<Typical> all;
  for (const advice::Driving& d : drives) {
    for (std::size_t i = 0; i < d.rows(); ++i) {
      if (!d.usable[i] || d.fuel_kg_s[i] <= 0) continue;
      all.push_back({d.rpm[i], d.sensor_share * (d.air_kg_s[i] + d.fuel_kg_s[i])});
    }
  }
  if (all.empty()) return std::nullopt;
  const auto k = static_cast<std::ptrdiff_t>(quantile * static_cast<double>(all.size() - 1));
  std::nth_element(all.begin(), all.begin() + k, all.end(),
                   [](const Typical& a, const Typical& b) { return a.gas_kg_s < b.gas_kg_s; });
  return all[static_cast<std::size_t>(k)];
}

// From the look-up of the table to the sensor (dynamic.5): delay, gas and revolutions. The
// half-width takes delay and gas as independent, which they are not: it is rather too wide.
Figure transport(const advice::DynamicEstimate& e, const Typical& t) {
  constexpr double kRevolutions = 1.75;
  const double gas_s = std::exp(e.theta[advice::kLnGas]) / t.gas_kg_s;
  const double sd = std::hypot(e.theta_sd[advice::kDelay], gas_s * e.theta_sd[advice::kLnGas]);
  return {e.theta[advice::kDelay] + gas_s + kRevolutions * 60 / t.rpm, k95 * sd};
}

Figure of_ln(double ln, double sd) { return {std::exp(ln), k95 * sd * std::exp(ln)}; }

std::string text_of(const Figure& f, int digits) {
  return fmt::format("{:.{}f}{}{:.{}f}", f.value, digits, kPlusMinus, f.half_width, digits);
}

}  // namespace

std::string sentence_of(const EstimateReply& r) {
  if (r.verdict == advice::Verdict::do_not_know) {
    return fmt::format("I do not know this table yet: {}.", r.because);
  }
  const std::string known =
      fmt::format("Where it was driven {} is known to {}{:.1f} %", name_of_table(r.evidence->what),
                  kPlusMinus, 100 * r.driven_half_width);
  if (r.verdict == advice::Verdict::weak) return known + ", but no node is measured yet.";
  if (r.evidence->what == car::TableWhat::ve && !r.in_force) {
    return fmt::format("{}; {} of {} nodes are measured.", known, r.measured,
                       r.evidence->sd_log.size());
  }
  const bool ve = r.evidence->what == car::TableWhat::ve;
  return fmt::format("{}; with the {} it is {:.1f} % too {} there on average ({}{:.1f} %).", known,
                     ve ? "table in force" : "unit's own table", 100 * std::abs(r.shift),
                     r.shift > 0 ? "lean" : "rich", kPlusMinus, 100 * r.shift_half_width);
}

std::string not_known_of(const EstimateReply& r) {
  const car::Evidence& e = *r.evidence;
  const auto guess = [&](std::size_t ix, std::size_t iy) {
    return e.mark[e.grid.index(ix, iy)] == car::NodeMark::prior_only;
  };
  const std::size_t top = e.grid.y.kind() == car::AxisKind::vacuum ? 0 : e.grid.y.size() - 1;
  std::size_t from = e.grid.x.size();
  while (from > 0 && guess(from - 1, top)) --from;
  const auto at = [&](std::size_t ix) { return e.grid.x.format_point(ix, r.units); };
  if (r.prior_only == 0) return "No node is a mere guess any more.";
  if (from == 0) {
    return fmt::format(
        "The highest load is a guess at every speed; {} of {} nodes are guesses in all.",
        r.prior_only, e.mark.size());
  }
  std::size_t top_guesses = 0;
  for (std::size_t ix = 0; ix < e.grid.x.size(); ++ix) top_guesses += guess(ix, top);
  if (from < e.grid.x.size()) {
    return fmt::format(
        "The highest load is a guess at {} of {} speeds, from {} up at every one; {} of {} nodes "
        "are guesses in all.",
        top_guesses, e.grid.x.size(), at(from), r.prior_only, e.mark.size());
  }
  return fmt::format("{} of {} nodes are still guesses.", r.prior_only, e.mark.size());
}

void warn_of_impossible_ve(const advice::MapEstimate& e, EstimateReply& reply) {
  constexpr double kHighest =
      1.20;  // tuned street engines reach about 1.1 (common practice, no source)
  constexpr double kLowest = 0.20;
  if (e.evidence.what != car::TableWhat::ve) return;
  double outside = 0;
  double worst = 1;
  for (std::size_t i = 0; i < e.evidence.estimate.size(); ++i) {
    const double ve = e.evidence.estimate[i];
    const double share = e.usage[static_cast<Eigen::Index>(i)];
    if (share <= 0 || (ve <= kHighest && ve >= kLowest)) continue;
    outside += share;
    if (std::abs(std::log(ve)) > std::abs(std::log(worst))) worst = ve;
  }
  if (outside < 0.05) return;
  reply.warnings.push_back(
      fmt::format("VE of {:.0f} % and the like in {:.0f} % of the driving: no engine breathes so "
                  "without boost; check displacement, cylinders, injector flow and count, squirts "
                  "per cycle and the gauge's constant before you load this",
                  100 * worst, 100 * outside));
}

void warn_of_disagreement(const Witnesses& w, const Task& task, const advice::MapEstimate& e,
                          EstimateReply& reply) {
  constexpr double kTooFar =
      0.06;  // days, fuels and sensors differ by 2 to 3 % (common practice, no source)
  std::vector<Distance> all;
  measure(w.speakers, task, e, all);
  measure(w.beside, task, e, all);
  if (all.size() < 2) return;
  const auto [low, high] = std::ranges::minmax_element(all, {}, &Distance::mean);
  const double apart = high->mean() - low->mean();
  if (apart < kTooFar) return;
  reply.warnings.push_back(
      fmt::format("recordings {} and {} disagree by {:.0f} %: another fuel, sensor or table was in "
                  "the car; say --revision when adding, or leave one out",
                  reply.recordings[low->listed].id, reply.recordings[high->listed].id,
                  100 * std::expm1(apart)));
}

void warn_of_doubts(EstimateReply& reply) {
  for (const UsedRecording& u : reply.recordings) {
    if (!u.left_out.empty()) {
      reply.warnings.push_back(fmt::format("recording {} was not used: {}", u.id, u.left_out));
      continue;
    }
    for (const auto& d : u.doubts) {
      if (d.probability < advice::doubts::kMentioned) continue;
      reply.warnings.push_back(d.probability >= advice::doubts::kRefused
                                   ? fmt::format("recording {}: {}", u.id, d.says)
                                   : fmt::format("recording {}, {:.0f} % probable: {}", u.id,
                                                 100 * d.probability, d.says));
    }
  }
}

DynamicsFound dynamics_found(const advice::DynamicEstimate& e,
                             std::span<const advice::Driving> drives) {
  DynamicsFound out;
  out.sensor_lag_s = of_ln(e.theta[advice::kLnLag], e.theta_sd[advice::kLnLag]);
  out.film_share = {e.theta[advice::kFilm], k95 * e.theta_sd[advice::kFilm]};
  out.film_time_s = of_ln(e.theta[advice::kLnTau], e.theta_sd[advice::kLnTau]);
  out.rows_set_aside = e.masked;
  out.notes = e.notes;
  const auto low = typical(drives, 0.1);
  const auto high = typical(drives, 0.9);
  if (!low || !high) return out;
  out.delay_low_flow_s = transport(e, *low);
  out.delay_high_flow_s = transport(e, *high);
  out.sentence = fmt::format(
      "A change of fuel reaches the sensor {} s later at low flow and {} s at high flow; the "
      "sensor answers in {} s; {} % of the fuel wets the walls first and leaves them in {} s.",
      text_of(out.delay_low_flow_s, 2), text_of(out.delay_high_flow_s, 2),
      text_of(out.sensor_lag_s, 2),
      text_of({100 * out.film_share.value, 100 * out.film_share.half_width}, 0),
      text_of(out.film_time_s, 1));
  return out;
}

}  // namespace fuelwright::service
