// Whether a closed loop was at work: fuel that follows the mixture's error, window by window.
#include <algorithm>
#include <cmath>
#include <iterator>
#include <map>

#include "advice/doubts/internal/tests.h"

namespace fuelwright::advice::doubts {
namespace {

constexpr double kCorrectedBefore = 0.10;  // (common practice, no source)
// Windows: so long after pressure moved (a mixture settles slower than a pulse width), at least so
// long.
constexpr double kSettled_s = 2.0;
constexpr double kPulseSettled_s = 0.8;
constexpr double kShortest_s = 1.5;
constexpr double kFewestRows = 100;
// Gains of units (from memory), and what passes for one on a healthy car.
constexpr double kGains_per_s[] = {0.05, 0.08, 0.12, 0.18, 0.27, 0.40, 0.60};
constexpr double kSpreadOfGain = 0.3;
constexpr double kUsualGain_per_s = 0.03;
constexpr double kUsualOfMixture_per_s = 0.10;  // a film that still settles looks like a slow loop
constexpr double kWindowsFollow = 0.5;          // the rest stands at a limit, or the loop waits
constexpr double kOddWindow = 0.05;

// Row by row the number of the window it is in, -1 for none.
std::vector<int> windows_of(const Timeline& t, double settled_s) {
  std::vector<int> out(t.rows(), -1);
  int number = 0;
  for (const signals::Segment& s : t.recording.segments) {
    std::size_t from = s.first;
    for (std::size_t i = s.first; i <= s.last; ++i) {
      if (i < s.last && t.loop_works(i) && t.since_moved_s[i] > settled_s) continue;
      if (static_cast<double>(i - from) * t.step_s >= kShortest_s) {
        for (std::size_t k = from; k < i; ++k) out[k] = number;
        ++number;
      }
      from = i + 1;
    }
  }
  return out;
}

// Of one window, about its means; x: the integrated error.
struct Sums {
  double n = 0, y = 0, x = 0, xy = 0, xx = 0;
  double slope() const { return xx > 0 ? xy / xx : 0.0; }
};

Sums sums_of(const Witness& w, const std::vector<std::size_t>& rows, const std::vector<double>& I) {
  Sums s;
  for (const std::size_t k : rows) {
    s.n += 1;
    s.y += w.rows[k].y;
    s.x += I[w.from[k]];
  }
  s.y /= s.n;
  s.x /= s.n;
  for (const std::size_t k : rows) {
    const double x = I[w.from[k]] - s.x;
    s.xx += x * x;
    s.xy += x * (w.rows[k].y - s.y);
  }
  return s;
}

// How fast fuel follows lambda/target - 1 in each window, and how well that is known [1/s].
std::vector<About> gains_of(const Witness& w, const Timeline& t, bool is_ratio) {
  const std::vector<int> window = windows_of(t, is_ratio ? kPulseSettled_s : kSettled_s);
  const std::vector<double> I = integral_in(t, window);
  std::map<int, std::vector<std::size_t>> members;
  for (std::size_t k = 0; k < w.rows.size(); ++k) {
    if (window[w.from[k]] >= 0) members[window[w.from[k]]].push_back(k);
  }
  std::vector<Sums> all;
  double squares = 0, products = 0, freedom = 0;
  for (const auto& [number, rows] : members) {
    if (static_cast<double>(rows.size()) * t.step_s < kShortest_s) continue;
    all.push_back(sums_of(w, rows, I));
    const Sums& s = all.back();
    double before = 0;
    for (const std::size_t k : rows) {
      const double left = w.rows[k].y - s.y - s.slope() * (I[w.from[k]] - s.x);
      squares += left * left;
      products += left * before;
      before = left;
    }
    freedom += s.n - 2;
  }
  std::vector<About> out;
  if (freedom < kFewestRows || !(squares > 0)) return out;
  // A noise that keeps rho of itself from row to row repeats (1 + rho)/(1 - rho) times.
  const double rho = std::clamp(products / squares, 0.0, 0.98);
  const double variance = squares / freedom * (1 + rho) / (1 - rho);
  for (const Sums& s : all) {
    // More fuel raises the fuel ratio and lowers lambda.
    if (s.xx > 0) out.push_back({is_ratio ? s.slope() : -s.slope(), variance / s.xx});
  }
  return out;
}

double normal(double x, double variance) {
  return std::exp(-0.5 * x * x / variance) / std::sqrt(variance);
}

// ln of how much better one gain explains the windows than none; an odd window decides nothing.
double ln_for(double gain, const std::vector<About>& gains, double usual) {
  const double own = kSpreadOfGain * gain;
  double ln = 0;
  for (const About& g : gains) {
    const double none = (1 - kOddWindow) * normal(g.mean, g.variance + usual * usual) +
                        kOddWindow * normal(g.mean, 1);
    const double follows = normal(g.mean - gain, g.variance + own * own + usual * usual);
    ln += std::log1p(kWindowsFollow * (follows / none - 1));  // (doubts.10)
  }
  return ln;
}

}  // namespace

std::optional<Doubt> loop_doubt(const Witness& w, const Timeline& t, bool is_ratio) {
  const std::vector<About> gains = gains_of(w, t, is_ratio);
  if (gains.empty()) return std::nullopt;
  std::vector<double> ln;
  const double usual = is_ratio ? kUsualGain_per_s : kUsualOfMixture_per_s;
  for (const double gain : kGains_per_s) ln.push_back(ln_for(gain, gains, usual));
  const auto best = std::ranges::max_element(ln);
  double sum = 0;
  for (const double l : ln) sum += std::exp(l - *best);
  Doubt d;
  d.kind = Kind::unit_corrected;
  d.ln_b = *best + std::log(sum / static_cast<double>(ln.size()));
  d.probability = probability(d.ln_b, kCorrectedBefore);
  d.size = kGains_per_s[best - ln.begin()];
  d.size_sd = kSpreadOfGain * d.size;
  d.says =
      "it is said to be driven open loop, but the mixture was corrected while it was driven; "
      "record "
      "the correction, or switch it off";
  return d;
}

}  // namespace fuelwright::advice::doubts
