#include "advice/dynamic_estimate/internal/forward.h"

#include <algorithm>
#include <cmath>

namespace fuelwright::advice {
namespace {

constexpr double kWettest = 0.80;
constexpr double kRevolutions = 1.75;  // from the look-up to the exhaust stroke, 1.5 to 2
constexpr double kSmallestPhi = 1e-3;  // a fuel cut
constexpr double kShortest_s = 1e-3;   // below: no low pass at all

// A column at a row with a fraction. What is looked up lies before the row that asks.
double between(const std::vector<double>& v, double x) {
  const auto j = static_cast<std::size_t>(x);
  const double part = x - static_cast<double>(j);
  return part > 0 ? v[j] + part * (v[j + 1] - v[j]) : v[j];
}

// One step of a low pass that begins in equilibrium.
double follow(const LowPass& low, bool started, double y, double before, double x) {
  return started ? low.keep * y + low.before * before + low.now * x : x;
}

bool same_film(const Theta& a, const Theta& b) {
  return a[kFilm] == b[kFilm] && a[kLnTau] == b[kLnTau] && a[kFilmMap] == b[kFilmMap] &&
         a[kFilmCold] == b[kFilmCold] && a[kSlowFilm] == b[kSlowFilm] &&
         a[kLnSlowTau] == b[kLnSlowTau];
}

}  // namespace

LowPass::LowPass(double time_s, double step_s) : keep(0), before(0), now(1) {
  if (time_s < kShortest_s) return;
  keep = std::exp(-step_s / time_s);
  const double mean = time_s / step_s * (1 - keep);
  before = mean - keep;
  now = 1 - mean;
}

Forward::Forward(const Driving& driving) : d_(&driving) { make_room(); }

// Calls back with a stretch and those of its rows that lie in first..last.
template <class F>
void Forward::each_stretch(std::size_t first, std::size_t last, F&& f) const {
  const auto& all = d_->stretches;
  auto s = std::partition_point(all.begin(), all.end(),
                                [&](const Driving::Stretch& x) { return x.last <= first; });
  for (; s != all.end() && s->first < last; ++s) {
    f(*s, std::max(first, s->first), std::min(last, s->last));
  }
}

void Forward::make_room() {
  const std::size_t n = d_->rows();
  for (std::size_t i = map_away_.size(); i < n; ++i) {
    map_away_.push_back(std::log(std::max(d_->map_pa[i], 1e3) / 50e3));
    cold_.push_back((363.15 - d_->coolant_k[i]) / 20.0);
  }
  for (auto* c : {&per_air_, &mass_, &phi_, &film_now_}) c->resize(n, 0.0);
  for (auto* c : {&predicted_, &film_}) c->resize(n, NAN);
  t_d_.resize(n, -1.0);
}

void Forward::begin(const Theta& theta, double dd_s, double w) {
  theta_ = theta;
  dd_s_ = dd_s;
  w_ = w;
  done_ = 0;
  for (auto* c : {&map_away_, &cold_, &predicted_, &film_, &t_d_}) c->clear();
}

// Air, and the exhaust that has gone by since the stretch began.
void Forward::weigh(std::size_t first, std::span<const double> delta_ln) {
  const double per_row = d_->sensor_share * d_->step_s;
  each_stretch(first, first + delta_ln.size(), [&](const auto& s, std::size_t a, std::size_t b) {
    for (std::size_t i = a; i < b; ++i) {
      const double air = d_->air_kg_s[i] * std::exp(delta_ln[i - first] + w_ * d_->heating[i]);
      per_air_[i] = d_->stoichiometric / air;
      const double flow = air + d_->fuel_kg_s[i];
      mass_[i] = i > s.first ? mass_[i - 1] + 0.5 * (flow + flow_before_) * per_row : 0.0;
      flow_before_ = flow;
    }
  });
}

void Forward::wet(const Theta& theta, double dd_s, double w, std::size_t first, std::size_t last,
                  Along& along, std::vector<double>& phi, std::vector<double>* film) const {
  const LowPass quick(std::exp(theta[kLnTau]), d_->step_s);
  const LowPass slow(std::exp(theta[kLnSlowTau]), d_->step_s);
  const double most = kWettest / std::max(theta[kFilm] + theta[kSlowFilm], 1e-9);
  const bool other_w = w != w_;
  each_stretch(first, last, [&](const auto& s, std::size_t a, std::size_t b) {
    for (std::size_t i = a; i < b; ++i) {
      const double u = std::max(d_->fuel_kg_s[i] - dd_s * d_->dead_kg_s2[i], 0.0);
      const double grown =
          std::clamp(1 + theta[kFilmMap] * map_away_[i] + theta[kFilmCold] * cold_[i], 0.0, most);
      const double to_quick = theta[kFilm] * grown * u;
      const double to_slow = theta[kSlowFilm] * grown * u;
      const bool on = i > s.first;
      along.quick = follow(quick, on, along.quick, along.quick_before, to_quick);
      along.slow = follow(slow, on, along.slow, along.slow_before, to_slow);
      along.quick_before = to_quick;
      along.slow_before = to_slow;
      const double f = u - to_quick - to_slow + along.quick + along.slow;  // (dynamic.4)
      phi[i] = f * per_air_[i];
      if (other_w) phi[i] *= std::exp((w_ - w) * d_->heating[i]);
      if (film) (*film)[i] = u > 0 && f > 0 ? std::log(u / f) : -1.0;
    }
  });
}

// Row, with its fraction, at which the table was looked up for what row i reads; -1: not arrived.
double Forward::looked_up_at(const Passage& passage, const Driving::Stretch& s, std::size_t i,
                             Along& along) const {
  if (i == s.first) along.exhaust = s.first;
  const double seen = static_cast<double>(i) - passage.steps;
  if (seen < static_cast<double>(s.first)) return -1;
  const double left = between(mass_, seen) - passage.gas_kg;
  if (left < mass_[s.first]) return -1;
  std::size_t& e = along.exhaust;
  while (e + 1 < i && mass_[e + 1] <= left) ++e;
  const double width = mass_[e + 1 < s.last ? e + 1 : e] - mass_[e];
  const double part = width > 0 ? std::clamp((left - mass_[e]) / width, 0.0, 1.0) : 0.0;
  const double exhaust = static_cast<double>(e) + part;
  const double at = exhaust - kRevolutions * 60.0 / (d_->rpm[e] * d_->step_s);  // (dynamic.5)
  return at >= static_cast<double>(s.first) ? at : -1;
}

Forward::Passage Forward::passage_of(const Theta& theta) const {
  return {std::max(theta[kDelay], 0.0) / d_->step_s, std::exp(theta[kLnGas])};
}

void Forward::extend(std::span<const double> delta_ln) {
  make_room();
  const std::size_t first = done_;
  const std::size_t last = first + delta_ln.size();
  weigh(first, delta_ln);
  wet(theta_, dd_s_, w_, first, last, along_, phi_, &film_now_);
  const Passage passage = passage_of(theta_);
  const LowPass lag(std::exp(theta_[kLnLag]), d_->step_s);
  each_stretch(first, last, [&](const auto& s, std::size_t a, std::size_t b) {
    for (std::size_t i = a; i < b; ++i) {
      if (i == s.first) along_.started = false;
      const double at = t_d_[i] = looked_up_at(passage, s, i, along_);
      predicted_[i] = NAN;
      if (at < 0) continue;
      const double x = between(phi_, at);
      const double film = between(film_now_, at);
      along_.read = follow(lag, along_.started, along_.read, along_.arrived_before, x);
      film_[i] = film_read_ = follow(lag, along_.started, film_read_, film_before_, film);
      along_.arrived_before = x;
      film_before_ = film;
      along_.started = true;
      predicted_[i] = -std::log(std::max(along_.read, kSmallestPhi));
    }
  });
  done_ = last;
}

void Forward::run(const Theta& theta, std::span<const double> delta_ln, double dd_s, double w) {
  begin(theta, dd_s, w);
  extend(delta_ln);
}

void Forward::extend_again(Again& again, std::size_t every) const {
  again.predicted_ln.resize(done_, NAN);
  const Theta& theta = again.theta;
  const bool film = again.dd_s == dd_s_ && again.w == w_ && same_film(theta, theta_);
  const bool delay = theta[kDelay] == theta_[kDelay] && theta[kLnGas] == theta_[kLnGas];
  if (!film) {
    again.phi.resize(done_, 0.0);
    wet(theta, again.dd_s, again.w, again.done, done_, again.along, again.phi, nullptr);
  }
  const std::vector<double>& phi = film ? phi_ : again.phi;
  const Passage passage = passage_of(theta);
  const LowPass lag(std::exp(theta[kLnLag]), d_->step_s);
  Along& along = again.along;
  each_stretch(again.done, done_, [&](const auto& s, std::size_t a, std::size_t b) {
    for (std::size_t i = a; i < b; ++i) {
      if (i == s.first) along.started = false;
      const double at = delay ? t_d_[i] : looked_up_at(passage, s, i, along);
      again.predicted_ln[i] = NAN;
      if (at < 0) continue;
      const double x = between(phi, at);
      along.read = follow(lag, along.started, along.read, along.arrived_before, x);
      along.arrived_before = x;
      along.started = true;
      if (i % every != 0) continue;
      again.predicted_ln[i] = -std::log(std::max(along.read, kSmallestPhi));
    }
  });
  again.done = done_;
}

}  // namespace fuelwright::advice
