#include "advice/dynamic_estimate/dynamic_estimate.h"

#include <algorithm>
#include <cmath>
#include <deque>

#include "advice/dynamic_estimate/internal/outcome.h"
#include "advice/dynamic_estimate/internal/passes.h"
#include "advice/dynamic_estimate/internal/rows.h"

namespace fuelwright::advice {
namespace {

constexpr double kStill = 1e-3;  // rms: the table stands still, no further pass
// The first passes only come near; in long recordings every third row does.
constexpr std::size_t kSparse = 3;
constexpr std::size_t kLong_rows = 6000;

struct Fit {
  Eigen::VectorXd x;  // all states, not the deviation
  double noise_scale = 1;
  double repetition = 1;
  NodeDriving nodes;
  long samples = 0;
  long masked = 0;
};

class Estimator {
 public:
  Estimator(const car::Surface& start, std::span<const Driving> drives, const SampleSource& others,
            const DynamicOptions& options, const Known* known)
      : start_(start),
        drives_(drives),
        others_(others),
        o_(options),
        known_(known),
        layout_(layout_of(start.grid, drives, others, options)),
        before_(before_driving(layout_, start.grid, options, known)) {
    fit_.x = before_.mu;
    for (std::size_t r = 0; r < drives.size(); ++r) rows_.emplace_back(drives[r], r, layout_, o_);
  }

  DynamicEstimate run(car::TableWhat what);
  DynamicEstimate run_at(const HeldPoint& point, car::TableWhat what);

 private:
  struct Pass {
    Sums driven;
    double repetition = 1;   // as the residuals show it
    double noise_scale = 1;  // the same
  };
  Pass pass(bool gently, bool sparsely = false);
  Information tempered(const Pass& pass, double repetition);
  std::vector<double> drift_of(std::size_t recording) const;
  void add_others(Sums& sums);
  void count();
  DynamicEstimate answer(car::TableWhat what, const HeldPoint& point, const Posterior& all);

  const car::Surface& start_;
  std::span<const Driving> drives_;
  const SampleSource& others_;
  const DynamicOptions& o_;
  const Known* known_;
  DynamicLayout layout_;
  Before before_;
  Fit fit_;
  std::deque<DriveRows> rows_;
};

std::vector<double> Estimator::drift_of(std::size_t r) const {
  const auto of = fit_.x.segment(layout_.knot(r, 0), layout_.knots[r]);
  return {of.begin(), of.end()};
}

void Estimator::add_others(Sums& sums) {
  if (!others_) return;
  Sums own(layout_.states());
  std::vector<double> z;
  int run = -1;
  double step_s = 1;
  others_([&](const Sample& s) {
    const car::NodeShares at = start_.grid.shares(s.at);
    std::array<Entry, 6> row;
    std::size_t n = 0;
    for (; n < static_cast<std::size_t>(at.count); ++n) row[n] = {at.node[n], at.share[n]};
    if (s.instrument > 0 && s.instrument <= layout_.levels) {
      row[n++] = {layout_.level(s.instrument), 1.0};
    }
    row[n++] = {layout_.stretch(s.stretch), 1.0};
    double y = s.y - EstimateOptions{}.charge_exponent * s.warmth;
    double r = y;
    for (std::size_t k = 0; k < n; ++k) {
      y -= row[k].share * before_.mu[row[k].state];
      r -= row[k].share * fit_.x[row[k].state];
    }
    const double t2 = r * r / (s.sd * s.sd);
    const double soft = (o_.nu + 1) / (o_.nu + t2);
    own.add({row.data(), n}, y, soft / (s.sd * s.sd));
    if (s.run != run) z.push_back(NAN);
    run = s.run;
    step_s = s.seconds;
    z.push_back(r / s.sd * std::sqrt(soft));
    ++fit_.samples;
    for (int k = 0; k < at.count; ++k) {
      fit_.nodes.seconds[at.node[k]] += at.share[k] * s.seconds * std::min(1.0, soft);
    }
  });
  const double vif = inflation(z, std::max(3, static_cast<int>(o_.longest_memory_s / step_s)));
  sums.add_scaled(own, 1 / vif);
}

// All recordings' rows at the present x.
Estimator::Pass Estimator::pass(bool gently, bool sparsely) {
  Taught taught(layout_);
  double vif = 0;
  long counted = 0;
  for (std::size_t r = 0; r < drives_.size(); ++r) {
    DriveRows& rows = rows_[r];
    rows.begin(fit_.x.head(layout_.fixed()), before_.mu.head(layout_.fixed()), drift_of(r),
               fit_.noise_scale, gently);
    const std::size_t every = sparsely && drives_[r].rows() > kLong_rows ? kSparse : 1;
    rows.run(every);
    rows.teach(drives_[r].rows(), taught, every);
    const auto lags = static_cast<int>(o_.longest_memory_s / drives_[r].step_s);
    vif += static_cast<double>(taught.samples - counted) * (every > 1 ? kEarlyRepetition : inflation(rows.residuals(), lags));
    counted = taught.samples;
  }
  fit_.nodes = known_ ? known_->nodes : NodeDriving::none(layout_.nodes);
  fit_.nodes.seconds += taught.nodes.seconds;
  fit_.nodes.settled += taught.nodes.settled;
  fit_.samples = taught.samples;
  fit_.masked = taught.masked;
  return {std::move(taught.sums), counted > 0 ? vif / static_cast<double>(counted) : 1.0,
          noise_scale_of(taught.weighted_squares, counted, o_)};
}

Information Estimator::tempered(const Pass& pass, double repetition) {
  fit_.repetition = repetition;
  Sums sums(layout_.states());
  sums.add_scaled(pass.driven, 1 / repetition);
  add_others(sums);
  return sums.information();
}

void Estimator::count() {
  for (const Driving& d : drives_) count_use(start_, d, 0, d.rows(), fit_.nodes);
  if (!others_) return;
  others_([&](const Sample& s) {
    const car::NodeShares at = start_.grid.shares(s.at);
    for (int k = 0; k < at.count; ++k) fit_.nodes.all[at.node[k]] += at.share[k] * s.seconds;
    fit_.nodes.driven_s += s.seconds;
  });
}

DynamicEstimate Estimator::run(car::TableWhat what) {
  int passes = 0;
  for (int i = 0; i < o_.passes; ++i) {
    const bool early = i < kEarlyPasses;
    const Pass p = pass(i == 0, early);
    fit_.noise_scale = early ? std::min(p.noise_scale, kEarlyScale) : p.noise_scale;
    const Information information =
        tempered(p, early ? std::min(p.repetition, kEarlyRepetition) : p.repetition);
    const Step step = take_step(before_, information, fit_.x, layout_, o_);
    fit_.x = step.to;
    ++passes;
    if (i > kEarlyPasses && step.moved < kStill) break;
  }
  HeldPoint point{.noise_scale = fit_.noise_scale};
  const Pass last = pass(false);
  fit_.noise_scale = last.noise_scale;
  const Posterior all = posterior(before_.K, tempered(last, last.repetition));
  point.repetition = fit_.repetition;
  point.x = fit_.x.head(layout_.fixed());
  for (std::size_t r = 0; r < drives_.size(); ++r) point.drift.push_back(drift_of(r));
  DynamicEstimate out = answer(what, point, all);
  out.passes = passes;
  return out;
}

DynamicEstimate Estimator::run_at(const HeldPoint& point, car::TableWhat what) {
  EXPECTS(point.x.size() == layout_.fixed());
  fit_.x.head(layout_.fixed()) = point.x;
  for (std::size_t r = 0; r < drives_.size(); ++r) {
    const auto& drift = r < point.drift.size() ? point.drift[r] : std::vector<double>{};
    for (int k = 0; k < layout_.knots[r]; ++k) {
      fit_.x[layout_.knot(r, k)] = held_drift(drift, k, layout_.knot_s[r], o_);
    }
  }
  fit_.noise_scale = point.noise_scale;
  const Pass p = pass(point.gently);
  const Posterior all = posterior(before_.K, tempered(p, point.repetition));
  fit_.x = before_.mu + all.mean;
  return answer(what, point, all);
}

DynamicEstimate Estimator::answer(car::TableWhat what, const HeldPoint& point,
                                  const Posterior& all) {
  count();
  const int fixed = layout_.fixed();
  const Known known{.mean = fit_.x.head(fixed),
                    .covariance = all.covariance.topLeftCorner(fixed, fixed),
                    .nodes = fit_.nodes,
                    .samples = fit_.samples + (known_ ? known_->samples : 0)};
  const Eigen::VectorXd prior_sd = covariance(o_.prior, start_.grid).diagonal().cwiseSqrt();
  DynamicEstimate out = describe_known(start_, what, layout_, known, point, prior_sd, o_);
  out.map.noise_scale = fit_.noise_scale;
  out.masked = fit_.masked;
  return out;
}

}  // namespace

DynamicEstimate estimate_dynamic(const car::Surface& start, car::TableWhat what,
                                 std::span<const Driving> drives, const SampleSource& others,
                                 const DynamicOptions& options) {
  EXPECTS(!drives.empty());
  EXPECTS(options.passes >= 3);
  EXPECTS(std::all_of(start.values.begin(), start.values.end(), [](double v) { return v > 0; }));
  return Estimator(start, drives, others, options, nullptr).run(what);
}

DynamicEstimate estimate_dynamic_at(const HeldPoint& point, const car::Surface& start,
                                    car::TableWhat what, std::span<const Driving> drives,
                                    const SampleSource& others, const DynamicOptions& options,
                                    const Known* known) {
  EXPECTS(!drives.empty());
  return Estimator(start, drives, others, options, known).run_at(point, what);
}

}  // namespace fuelwright::advice
