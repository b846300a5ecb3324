// The level of fuel or air: a sheet with the wrong number of cylinders or injectors.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "advice/doubts/internal/tests.h"
#include "advice/map_estimate/observe.h"

namespace fuelwright::advice::doubts {
namespace {

constexpr double kCountBefore = 0.02;  // a wrong count; or any other wrong number (no source)
constexpr double kOtherBefore = 0.02;
constexpr double kOtherSd = 0.5;
// Injectors, pressure and charge temperature, against a sheet that is right (common practice).
constexpr double kLevelSd = 0.05;
// Of a unit that runs on a table: its target about lambda 0.97, its correction about none (common
// practice, no source).
constexpr double kLnTarget = -0.03;
constexpr double kTargetSd = 0.07;
constexpr double kCorrectionSd = 0.08;
struct Common {
  int count;
  double share;  // of engines (common practice, no source)
};
constexpr std::array<Common, 9> kCounts{{{1, 0.02},
                                         {2, 0.05},
                                         {3, 0.06},
                                         {4, 0.38},
                                         {5, 0.04},
                                         {6, 0.20},
                                         {8, 0.20},
                                         {10, 0.02},
                                         {12, 0.03}}};

struct Level {
  double ln = 0;
  double sd = 1;
};

double robust_mean(std::vector<double> v) {
  const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
  std::nth_element(v.begin(), middle, v.end());
  return *middle;
}

// Two independent beliefs of one number.
Level both(const Level& a, const Level& b) {
  const double wa = 1 / (a.sd * a.sd), wb = 1 / (b.sd * b.sd);
  return {(wa * a.ln + wb * b.ln) / (wa + wb), 1 / std::sqrt(wa + wb)};
}

// VE by pulse width against what is believed of it, with its own prior's share of the doubt: and
// where the table in the unit is known, so is its error, by the mixture it made.
std::optional<Level> absolute_level(const Asked& asked, const Timeline& t) {
  ObserveOptions options;
  options.way = Way::pulse_width;
  const auto observer = Observer::make(asked.recording, asked.sheet, asked.believed, options);
  if (!observer) return std::nullopt;
  std::vector<double> y, by_mixture;
  Eigen::VectorXd usage =
      Eigen::VectorXd::Zero(static_cast<Eigen::Index>(asked.believed.grid.size()));
  observer->each(0, 0, 0, [&](const Sample& s) {
    y.push_back(s.y);
    const double lambda = t.lambda[s.row];
    if (asked.driven && lambda > 0) {
      by_mixture.push_back(std::log(lambda * asked.driven->at(s.at) / asked.believed.at(s.at)));
    }
    const car::NodeShares at = asked.believed.grid.shares(s.at);
    for (int k = 0; k < at.count; ++k) usage[at.node[k]] += at.share[k];
  });
  if (y.empty()) return std::nullopt;
  usage /= usage.sum();
  const Eigen::MatrixXd K = covariance(asked.prior, asked.believed.grid);
  Level error{usage.dot(mean(asked.prior, asked.believed.grid)), std::sqrt(usage.dot(K * usage))};
  if (!by_mixture.empty()) {
    error =
        both(error, {robust_mean(by_mixture) - kLnTarget, std::hypot(kTargetSd, kCorrectionSd)});
  }
  return Level{robust_mean(y) - error.ln, std::hypot(error.sd, kLevelSd)};
}

// Of pulse width and table: what the recorded correction explains is taken out.
Level relative_level(const Timeline& t, const Witness& ratio) {
  std::vector<double> y;
  for (std::size_t k = 0; k < ratio.rows.size(); ++k) {
    const double c = t.correction[ratio.from[k]];
    y.push_back(ratio.rows[k].y - (c > -1 ? std::log1p(c) : 0.0));
  }
  return {robust_mean(y), kLevelSd};
}

double density(double x, double middle, double sd) {
  const double z = (x - middle) / sd;
  return std::exp(-0.5 * z * z) / sd;
}

}  // namespace

std::optional<Doubt> count_doubt(const Asked& asked, const Timeline& t, const Witness& ratio) {
  std::optional<Level> level;
  if (!ratio.empty()) {
    level = relative_level(t, ratio);
  } else {
    level = absolute_level(asked, t);
  }
  if (!level) return std::nullopt;
  const int said = asked.sheet.injection.injector_count.value;
  constexpr double kNever = 1e-300;
  const double right = density(level->ln, 0, level->sd) + kNever;
  double counts = 0, best = 0;
  int likely = said;
  for (const Common& c : kCounts) {
    if (c.count == said) continue;
    const double there =
        c.share * density(level->ln, std::log(static_cast<double>(said) / c.count), level->sd);
    counts += there;  // (doubts.7)
    if (there > best) {
      best = there;
      likely = c.count;
    }
  }
  const double other = density(level->ln, 0, std::hypot(level->sd, kOtherSd));
  const double wrong = kCountBefore * counts + kOtherBefore * other;
  Doubt d;
  d.kind = Kind::count;
  const double before = kCountBefore + kOtherBefore;
  d.ln_b = std::log((wrong / before + kNever) / right);
  d.probability = probability(d.ln_b, before);
  d.size = std::exp(level->ln);
  d.size_sd = d.size * level->sd;
  d.spoils = asked.absolute;  // relative to the unit's own table the level drops out
  const bool by_count = kCountBefore * best > kOtherBefore * other;
  d.says = fmt::format(
      "{} {:.2f} times what {}{}; check cylinders, injector count, injector flow, squirts per "
      "cycle and displacement on the sheet",
      ratio.empty() ? "the air by pulse width is" : "the fuel by pulse width is", d.size,
      ratio.empty() ? "an engine of this sheet takes" : "table, target and sheet make",
      by_count ? fmt::format(", as if {} injectors fed it, not {}", likely, said) : "");
  return d;
}

}  // namespace fuelwright::advice::doubts
