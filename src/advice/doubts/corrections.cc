// Corrections as recorded, and the table in the unit, against what fuel and mixture do.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/doubts/internal/tests.h"
#include "base/contract.h"

namespace fuelwright::advice::doubts {
namespace {

// How probable each is before looking (common practice, no source).
constexpr double kNotAppliedBefore = 0.03;
constexpr double kSelfBefore = 0.10;
constexpr double kOtherTableBefore = 0.05;
// The share of its correction that a unit takes into its table.
constexpr double kLearns_per_min = 0.3;
// What passes for it on a healthy car: no model is perfect.
constexpr double kUsualLearns_per_min = 0.01;
// A law of another form than ours and steps of 0.5 % leave this of a table that is the right one;
// another table, or learned corrections, this.
constexpr double kOwnField = 0.007;
constexpr double kOtherField = 0.04;
constexpr double kAppliedSd = 1.0;
// How far k comes from 1 on healthy cars (tuning cars of bench/doubtful_drives: 0.02 by pulse
// width; by the mixture, which answers late and steers the correction itself, 0.35), and from 0
// otherwise.
constexpr double kUsualOfRatio = 0.05, kUsualOfMixture = 0.35;
constexpr double kNotAppliedSd = 0.1;
// A column that hardly moves says nothing.
constexpr double kLeastLearned_min = 2e-3;
constexpr double kLeastCorrection = 0.005;

double square(double x) { return x * x; }

// The rows of a witness with one more column beside its own, and one kind of fit of them.
class Bench {
 public:
  Bench(const Witness& w, bool is_ratio, Eigen::MatrixXd table) : w_(w), is_ratio_(is_ratio) {
    model_.table = std::move(table);
    if (is_ratio) model_.columns = usual_columns();
  }
  // `take_out`: the recorded correction is taken out of y first.
  template <class F>
  std::optional<About> fit(F column, Column prior, bool take_out, double least) const {
    std::vector<FitRow> rows = w_.rows;
    const auto k = model_.columns.size();
    double low = 0, high = 0;
    for (std::size_t i = 0; i < rows.size(); ++i) {
      const double x = column(w_.from[i]);
      if (i == 0) low = high = x;
      low = std::min(low, x);
      high = std::max(high, x);
      // More fuel raises the ratio and makes the mixture richer.
      rows[i].column[k] = is_ratio_ ? x : -x;
      if (take_out) rows[i].y += is_ratio_ ? -applied(w_.from[i]) : applied(w_.from[i]);
    }
    if (high - low < least) return std::nullopt;
    Model model = model_;
    model.columns.push_back(prior);
    const Fit f(model, rows);
    return About{f.mean(static_cast<int>(k)), f.variance(static_cast<int>(k))};
  }
  // ln of the Bayes factor of one table prior against another.
  double compare(const Eigen::MatrixXd& other, const Eigen::MatrixXd& own, bool take_out) const {
    std::vector<FitRow> rows = w_.rows;
    for (std::size_t i = 0; take_out && i < rows.size(); ++i) rows[i].y -= applied(w_.from[i]);
    Model model = model_;
    model.table = other;
    const Fit f(model, rows);
    return f.ln_evidence(other) - f.ln_evidence(own);
  }
  void correction(const std::vector<double>* c) { correction_ = c; }

 private:
  double applied(std::size_t row) const {
    const double c = (*correction_)[row];
    return c > -1 ? std::log1p(c) : 0.0;
  }
  const Witness& w_;
  bool is_ratio_;
  Model model_;
  const std::vector<double>* correction_ = nullptr;
};

Doubt made(Kind kind, double ln_b, double before, const About& size, std::string says) {
  return {
      kind, ln_b, probability(ln_b, before), size.mean, std::sqrt(size.variance), std::move(says),
      true};
}

}  // namespace

std::vector<Doubt> correction_doubts(const Asked& asked, const Timeline& t, const Witness& ratio) {
  std::vector<Doubt> out;
  if (t.step_s <= 0) return out;
  const bool is_ratio = !ratio.empty();
  const car::Surface& table = asked.driven ? *asked.driven : asked.believed;
  const Eigen::MatrixXd own =
      is_ratio ? field(table.grid, kOwnField) : covariance(asked.prior, table.grid);
  const Witness mixed = is_ratio ? Witness{} : mixture(asked, t, own);
  const Witness& w = is_ratio ? ratio : mixed;
  if (w.empty()) return out;
  Bench bench(w, is_ratio, own);
  bench.correction(&t.correction);
  const bool recorded = asked.recording.find(signals::Quantity::correction) != nullptr;
  if (!recorded && asked.open_loop) {
    if (auto d = loop_doubt(w, t, is_ratio)) out.push_back(std::move(*d));
  }
  if (recorded) {
    const auto c = [&](std::size_t i) {
      return t.correction[i] > -1 ? std::log1p(t.correction[i]) : 0.0;
    };
    const About usual{1, kAppliedSd * kAppliedSd};
    if (const auto k = bench.fit(c, {1, kAppliedSd}, false, kLeastCorrection)) {
      const About alone = likelihood_of(*k, usual);
      const double usual_sd = is_ratio ? kUsualOfRatio : kUsualOfMixture;
      out.push_back(made(Kind::not_applied,
                         ln_claim(alone, {0, square(kNotAppliedSd)}, {1, square(usual_sd)}),
                         kNotAppliedBefore, alone,
                         "the correction that was recorded never reached the fuel: it ran open "
                         "loop, or the column is something else"));
    }
    const std::vector<double> L = learned_column(t, table.grid);
    const auto s = bench.fit([&](std::size_t i) { return L[i]; }, {0, kLearns_per_min}, true,
                             kLeastLearned_min);
    if (s) {
      out.push_back(
          made(Kind::self_correction,
               ln_above_zero(likelihood_of(*s, {0, kLearns_per_min * kLearns_per_min}),
                             kUsualLearns_per_min, kLearns_per_min),
               kSelfBefore, *s,
               fmt::format("the unit went on correcting its own table while it was driven{}: "
                           "switch that off, clear what it learned, and drive again",
                           is_ratio ? "" : ", and the pulse width is not recorded")));
    }
  }
  if (is_ratio && (recorded || asked.open_loop)) {
    const double ln_b =
        bench.compare(field(table.grid, kOtherField), field(table.grid, kOwnField), recorded);
    out.push_back(made(Kind::other_table, ln_b, kOtherTableBefore, {kOtherField, 1e-6},
                       "the pulse widths are not what the table said to be in the unit makes: "
                       "another table, or corrections the unit has learned (give them with "
                       "--learned, or clear them)"));
  }
  return out;
}

}  // namespace fuelwright::advice::doubts
