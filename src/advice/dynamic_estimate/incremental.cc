#include "advice/dynamic_estimate/incremental.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "advice/dynamic_estimate/internal/outcome.h"
#include "advice/dynamic_estimate/internal/passes.h"
#include "advice/dynamic_estimate/internal/rows.h"

namespace fuelwright::advice {
namespace {

constexpr double kUsualRepetition_s = 0.5;  // VIF times the step, as it usually comes out
constexpr double kFirstPoint_s = 10;
constexpr double kGrown = 1.25;

}  // namespace

class RunningEstimate::Work {
 public:
  Work(const car::Surface& start, car::TableWhat what, const DynamicOptions& options,
       const Known* known, const HeldPoint* point)
      : start_(start),
        what_(what),
        o_(options),
        layout_(layout_of(start.grid, {&driving_, 1}, {}, o_)),
        before_(before_driving(layout_, start.grid, o_, known)),
        mu_(before_.mu.head(layout_.fixed())),
        rows_(driving_, 0, layout_, o_),
        prior_sd_(covariance(o_.prior, start.grid).diagonal().cwiseSqrt()) {
    EXPECTS(std::all_of(start.values.begin(), start.values.end(), [](double v) { return v > 0; }));
    if (known) known_ = *known;
    from_nothing_ = !point;
    if (point) {
      point_ = *point;
      point_.drift.clear();  // of other recordings
    } else {
      point_ = {.x = mu_, .gently = true};
    }
    EXPECTS(point_.x.size() == layout_.fixed());
    begin();
  }
  Work(const Work&) = delete;
  Work& operator=(const Work&) = delete;

  void add(const Driving& piece);
  void replace(Driving whole);
  void relinearise();
  bool stale() const { return driving_.rows() > 0 && driving_.rows() >= due_; }
  DynamicEstimate now() const;
  const HeldPoint& point() const { return point_; }
  const Driving& driving() const { return driving_; }

 private:
  void begin();
  void begin_rows();
  void first_piece();
  void absorb();
  void count(const Taught& taught);
  void take(const Taught& taught);
  void next_knot();
  void move_point();
  void take_whole();
  std::size_t teachable() const { return driving_.rows() > 0 ? driving_.rows() - 1 : 0; }
  // Residuals are still the table's error, not noise.
  bool early() const { return from_nothing_ && moved_ < kEarlyPasses; }
  int dropped() const { return static_cast<int>(drift_.size()); }

  car::Surface start_;
  car::TableWhat what_;
  DynamicOptions o_;
  std::optional<Known> known_;
  Driving driving_;
  DynamicLayout layout_;  // the fixed states and the two knots of now
  Before before_;
  Eigen::VectorXd mu_;  // without drift
  DriveRows rows_;
  Eigen::VectorXd prior_sd_;
  HeldPoint point_;
  Eigen::VectorXd mean_;
  Eigen::MatrixXd C_;
  std::vector<double> drift_;  // knots integrated out, as they were believed then
  NodeDriving nodes_;
  long samples_ = 0;
  long masked_ = 0;
  double weighted_squares_ = 0;
  std::size_t used_ = 0;  // rows that count_use() has seen
  std::size_t due_ = 0;   // rows at which the point is old
  bool from_nothing_ = true;
  int moved_ = 0;  // times that the point has
};

// Before any row.
void RunningEstimate::Work::begin() {
  mean_ = before_.mu;
  C_ = before_.K;
  drift_.clear();
  nodes_ = known_ ? known_->nodes : NodeDriving::none(layout_.nodes);
  samples_ = masked_ = 0;
  weighted_squares_ = 0;
  used_ = 0;
  begin_rows();
}

void RunningEstimate::Work::begin_rows() {
  rows_.lay_out(layout_, 0);
  rows_.begin(point_.x, mu_, point_.drift.empty() ? std::vector<double>{} : point_.drift.front(),
              point_.noise_scale, point_.gently);
}

// The clock is known now.
void RunningEstimate::Work::first_piece() {
  if (point_.gently) point_.repetition = std::max(1.0, kUsualRepetition_s / driving_.step_s);
  due_ = static_cast<std::size_t>(kFirstPoint_s / driving_.step_s);
  begin_rows();
}

void RunningEstimate::Work::count(const Taught& t) {
  nodes_.seconds += t.nodes.seconds;
  nodes_.settled += t.nodes.settled;
  samples_ += t.samples;
  masked_ += t.masked;
  weighted_squares_ += t.weighted_squares;
}

void RunningEstimate::Work::take(const Taught& t) {
  count(t);
  if (t.samples == 0) return;
  Information information = t.sums.information();
  information.scale(1 / point_.repetition);
  Eigen::VectorXd away = mean_;
  away.head(layout_.fixed()) -= mu_;
  const Posterior p =
      posterior(C_, {information.h() - information.H() * away, information.H()});  // (dynamic.8)
  mean_ += p.mean;
  C_ = p.covariance;
}

// (dynamic.9): the older knot out, a new one in.
void RunningEstimate::Work::next_knot() {
  const int old = layout_.knot(0, 0);
  const int last = layout_.knot(0, 1);
  const double rho = std::exp(-layout_.knot_s[0] / o_.drift_memory_s);
  drift_.push_back(mean_[old]);
  mean_[old] = mean_[last];
  C_.row(old) = C_.row(last).eval();
  C_.col(old) = C_.col(last).eval();  // its own variance comes with it: C(old, last) was set above
  mean_[last] = rho * mean_[old];
  C_.row(last) = rho * C_.row(old).eval();
  C_.col(last) = rho * C_.col(old).eval();
  C_(last, last) = rho * rho * C_(old, old) + o_.drift_sd * o_.drift_sd * (1 - rho * rho);
  rows_.lay_out(layout_, dropped());
}

void RunningEstimate::Work::absorb() {
  rows_.run();
  const std::size_t last = teachable();
  while (rows_.taught_to() < last) {
    const std::size_t border = rows_.first_row_of_knot(dropped() + 1);
    Taught taught(layout_);
    rows_.teach(std::min(last, border), taught);
    take(taught);
    if (rows_.taught_to() == border) next_knot();
  }
  count_use(start_, driving_, used_, driving_.rows(), nodes_);
  used_ = driving_.rows();
}

void RunningEstimate::Work::add(const Driving& piece) {
  const bool first = driving_.rows() == 0;
  driving_.append(piece);
  if (driving_.rows() == 0) return;
  if (first) first_piece();
  absorb();
}

void RunningEstimate::Work::replace(Driving whole) {
  const bool first = driving_.rows() == 0;
  driving_ = std::move(whole);
  begin();
  if (driving_.rows() == 0) return;
  if (first) first_piece();
  absorb();
}

// To the present answer, theta within its limits.
void RunningEstimate::Work::move_point() {
  Eigen::VectorXd from = mean_;
  from.head(layout_.fixed()) = point_.x;
  const Step step = take_step({mean_, C_}, Information(layout_.states()), from, layout_, o_);
  point_.x = step.to.head(layout_.fixed());
  std::vector<double> drift = drift_;
  for (int k = 0; k < 2; ++k) drift.push_back(step.to[layout_.knot(0, k)]);
  point_.drift = {std::move(drift)};
  const double scale = noise_scale_of(weighted_squares_, samples_, o_);
  point_.noise_scale = early() ? std::min(scale, kEarlyScale) : scale;
  point_.gently = false;
}

// All rows at once at the point; the knots of the past are integrated out afterwards.
void RunningEstimate::Work::take_whole() {
  const int past = dropped();
  DynamicLayout whole = layout_;
  whole.knots = {past + 2};
  const int fixed = layout_.fixed();
  begin();
  rows_.lay_out(whole, 0);
  rows_.run();
  Taught taught(whole);
  rows_.teach(teachable(), taught);
  count(taught);
  count_use(start_, driving_, 0, driving_.rows(), nodes_);
  used_ = driving_.rows();
  const double vif =
      inflation(rows_.residuals(), static_cast<int>(o_.longest_memory_s / driving_.step_s));
  const double usual = std::max(1.0, kUsualRepetition_s / driving_.step_s);
  point_.repetition = early() ? std::min(vif, usual) : vif;
  Information information = taught.sums.information();
  information.scale(1 / point_.repetition);
  Before before{Eigen::VectorXd::Zero(whole.states()), drift_covariance(whole, o_)};
  before.mu.head(fixed) = mu_;
  before.K.topLeftCorner(fixed, fixed) = before_.K.topLeftCorner(fixed, fixed);
  const Posterior p = posterior(before.K, information);
  const Eigen::VectorXd x = before.mu + p.mean;
  drift_.assign(x.begin() + fixed, x.begin() + fixed + past);
  std::vector<int> kept(static_cast<std::size_t>(layout_.states()));
  for (int i = 0; i < layout_.states(); ++i) kept[i] = i < fixed ? i : i + past;
  mean_ = x(kept);
  C_ = p.covariance(kept, kept);
  rows_.lay_out(layout_, past);
}

void RunningEstimate::Work::relinearise() {
  if (driving_.rows() == 0) return;
  move_point();
  take_whole();
  ++moved_;
  const auto n = static_cast<double>(driving_.rows());
  due_ = static_cast<std::size_t>(std::max(kGrown * n, n + kFirstPoint_s / driving_.step_s));
}

DynamicEstimate RunningEstimate::Work::now() const {
  const int fixed = layout_.fixed();
  const Known known{.mean = mean_.head(fixed),
                    .covariance = C_.topLeftCorner(fixed, fixed),
                    .nodes = nodes_,
                    .samples = samples_ + (known_ ? known_->samples : 0)};
  DynamicEstimate out = describe_known(start_, what_, layout_, known, point_, prior_sd_, o_);
  out.masked = masked_;
  out.passes = moved_;
  return out;
}

RunningEstimate::RunningEstimate(const car::Surface& start, car::TableWhat what,
                                 const DynamicOptions& options)
    : work_(std::make_unique<Work>(start, what, options, nullptr, nullptr)) {}
RunningEstimate::RunningEstimate(const car::Surface& start, car::TableWhat what,
                                 const DynamicOptions& options, const Known& known,
                                 const HeldPoint& point)
    : work_(std::make_unique<Work>(start, what, options, &known, &point)) {}
RunningEstimate::~RunningEstimate() = default;
RunningEstimate::RunningEstimate(RunningEstimate&&) noexcept = default;
RunningEstimate& RunningEstimate::operator=(RunningEstimate&&) noexcept = default;

void RunningEstimate::add(const Driving& piece) { work_->add(piece); }
void RunningEstimate::replace(Driving whole) { work_->replace(std::move(whole)); }
DynamicEstimate RunningEstimate::now() const { return work_->now(); }
void RunningEstimate::relinearise() { work_->relinearise(); }
bool RunningEstimate::stale() const { return work_->stale(); }
const HeldPoint& RunningEstimate::point() const { return work_->point(); }
const Driving& RunningEstimate::driving() const { return work_->driving(); }

}  // namespace fuelwright::advice
