#include "advice/dynamic_estimate/internal/forward.h"

#include <algorithm>
#include <cmath>

namespace fuelwright::advice {
namespace {

constexpr double kWettest = 0.75;
constexpr double kRevolutions = 1.75;  // from the look-up to the exhaust stroke, 1.5 to 2
constexpr double kSmallestPhi = 1e-3;  // a fuel cut
constexpr double kShortest_s = 1e-3;   // below: no low pass at all

// A column at a row with a fraction; first <= x, and x + 1 < last or the fraction is 0.
double between(const std::vector<double>& v, double x, std::size_t last) {
  const auto j = static_cast<std::size_t>(x);
  const double part = x - static_cast<double>(j);
  return j + 1 < last ? v[j] + part * (v[j + 1] - v[j]) : v[j];
}

}  // namespace

LowPass::LowPass(double time_s, double step_s) : keep(0), before(0), now(1) {
  if (time_s < kShortest_s) return;
  keep = std::exp(-step_s / time_s);
  const double mean = time_s / step_s * (1 - keep);
  before = mean - keep;
  now = 1 - mean;
}

Forward::Forward(const Driving& driving) : d_(&driving) {
  const std::size_t n = driving.rows();
  map_away_.resize(n);
  cold_.resize(n);
  for (std::size_t i = 0; i < n; ++i) {
    map_away_[i] = (driving.map_pa[i] - 50e3) / 50e3;
    cold_[i] = (363.15 - driving.coolant_k[i]) / 20.0;
  }
  for (auto* c : {&per_air_, &mass_, &phi_, &phi_again_}) c->assign(n, 0.0);
  for (auto* c : {&predicted_, &film_}) c->assign(n, NAN);
  for (auto* c : {&t_d_, &t_again_}) c->assign(n, -1.0);
}

void Forward::wet(const Theta& theta, double dd_s, double w, std::vector<double>& phi,
                  std::vector<double>* film) const {
  const LowPass low(std::exp(theta[kLnTau]), d_->step_s);
  const bool other_w = w != w_now_;
  for (const Driving::Stretch& s : d_->stretches) {
    double on_wall = 0;
    double before = 0;
    for (std::size_t i = s.first; i < s.last; ++i) {
      const double u = std::max(d_->fuel_kg_s[i] - dd_s * d_->dead_kg_s2[i], 0.0);
      const double share = std::clamp(
          theta[kFilm] * (1 + theta[kFilmMap] * map_away_[i] + theta[kFilmCold] * cold_[i]), 0.0,
          kWettest);
      const double in = share * u;
      on_wall = i == s.first ? in : low.keep * on_wall + low.before * before + low.now * in;
      before = in;
      const double f = u - in + on_wall;  // (dynamic.4)
      phi[i] = f * per_air_[i];
      if (other_w) phi[i] *= std::exp((w_now_ - w) * d_->heating[i]);
      if (film) (*film)[i] = u > 0 && f > 0 ? std::log(u / f) : -1.0;
    }
  }
}

void Forward::delay(const Theta& theta, std::vector<double>& t_d) const {
  const double steps = std::max(theta[kDelay], 0.0) / d_->step_s;
  const double gas = std::exp(theta[kLnGas]);
  for (const Driving::Stretch& s : d_->stretches) {
    std::size_t e = s.first;
    const auto first = static_cast<double>(s.first);
    for (std::size_t i = s.first; i < s.last; ++i) {
      t_d[i] = -1;
      const double seen = static_cast<double>(i) - steps;
      if (seen < first) continue;
      const double left = between(mass_, seen, s.last) - gas;
      if (left < mass_[s.first]) continue;
      while (e + 1 < i && mass_[e + 1] <= left) ++e;
      const double width = mass_[e + 1 < s.last ? e + 1 : e] - mass_[e];
      const double part = width > 0 ? std::clamp((left - mass_[e]) / width, 0.0, 1.0) : 0.0;
      const double exhaust = static_cast<double>(e) + part;
      const double at = exhaust - kRevolutions * 60.0 / (d_->rpm[e] * d_->step_s);  // (dynamic.5)
      if (at >= first) t_d[i] = at;
    }
  }
}

void Forward::read(const Theta& theta, const std::vector<double>& phi,
                   const std::vector<double>& t_d, std::vector<double>& ln_lambda) const {
  const LowPass low(std::exp(theta[kLnLag]), d_->step_s);
  for (const Driving::Stretch& s : d_->stretches) {
    bool started = false;
    double y = 1;
    double before = 1;
    for (std::size_t i = s.first; i < s.last; ++i) {
      if (t_d[i] < 0) {
        ln_lambda[i] = NAN;
        continue;
      }
      const double x = between(phi, t_d[i], s.last);
      y = started ? low.keep * y + low.before * before + low.now * x : x;
      before = x;
      started = true;
      ln_lambda[i] = -std::log(std::max(y, kSmallestPhi));
    }
  }
}

void Forward::through(const Theta& theta, const std::vector<double>& film,
                      std::vector<double>& out) const {
  const LowPass low(std::exp(theta[kLnLag]), d_->step_s);
  for (const Driving::Stretch& s : d_->stretches) {
    bool started = false;
    double y = 0;
    double before = 0;
    for (std::size_t i = s.first; i < s.last; ++i) {
      if (t_d_[i] < 0) continue;
      const double x = between(film, t_d_[i], s.last);
      y = started ? low.keep * y + low.before * before + low.now * x : x;
      before = x;
      started = true;
      out[i] = y;
    }
  }
}

void Forward::run(const Theta& theta, std::span<const double> delta_ln, double dd_s, double w) {
  theta_now_ = theta;
  dd_now_ = dd_s;
  w_now_ = w;
  const double per_row = d_->sensor_share * d_->step_s;
  for (const Driving::Stretch& s : d_->stretches) {
    double total = 0;
    double before = 0;
    for (std::size_t i = s.first; i < s.last; ++i) {
      const double air = d_->air_kg_s[i] * std::exp(delta_ln[i] + w * d_->heating[i]);
      per_air_[i] = d_->stoichiometric / air;
      const double flow = air + d_->fuel_kg_s[i];
      if (i > s.first) total += 0.5 * (flow + before) * per_row;
      before = flow;
      mass_[i] = total;
    }
  }
  std::vector<double>& film_now = phi_again_;  // room that is free here
  wet(theta, dd_s, w, phi_, &film_now);
  delay(theta, t_d_);
  read(theta, phi_, t_d_, predicted_);
  through(theta, film_now, film_);
}

void Forward::run_again(const Theta& theta, double dd_s, double w, std::vector<double>& out) {
  out.resize(d_->rows());
  bool same_film = dd_s == dd_now_ && w == w_now_;
  for (const ThetaAt k : {kFilm, kLnTau, kFilmMap, kFilmCold}) {
    same_film = same_film && theta[k] == theta_now_[k];
  }
  const bool same_delay =
      theta[kDelay] == theta_now_[kDelay] && theta[kLnGas] == theta_now_[kLnGas];
  if (!same_film) wet(theta, dd_s, w, phi_again_, nullptr);
  if (!same_delay) delay(theta, t_again_);
  read(theta, same_film ? phi_ : phi_again_, same_delay ? t_d_ : t_again_, out);
}

}  // namespace fuelwright::advice
