#include "service/ensembles.h"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <cmath>
#include <memory>
#include <nlohmann/json.hpp>

#include "advice/prediction/prediction.h"
#include "base/contract.h"
#include "physics/ensemble/serialise.h"
#include "physics/ensemble/suspects.h"

namespace fuelwright::service {

namespace {

constexpr const char* kLastPrediction = "prediction";

EnsembleKey key_of(const std::string& toml, int members, std::uint64_t seed) {
  return {toml, members, static_cast<std::int64_t>(seed), kBreathingModel};
}

// One set of them for a sheet, however many members were drawn.
EnsembleKey suspects_key(const std::string& toml) {
  return {toml, 1, 0, std::string(kBreathingModel) + ", suspects"};
}

struct Last {
  int members = 0;
  std::uint64_t seed = 0;
};

Result<std::optional<Last>> last_of(const Job& job) {
  FW_TRY(const std::optional<std::string> last, job.setting(kLastPrediction));
  if (!last) return std::optional<Last>{};
  const auto json = nlohmann::json::parse(*last, nullptr, false);
  if (!json.is_object() || !json.contains("members") || !json["members"].is_number_integer() ||
      !json.contains("seed") || !json["seed"].is_number_unsigned()) {
    return Error{ErrorCode::damaged, job.path(),
                 "the setting 'prediction' is not as it was written"};
  }
  return std::optional<Last>({json["members"].get<int>(), json["seed"].get<std::uint64_t>()});
}

}  // namespace

Result<OfJob> ensemble_of(Job& job, const std::string& toml, const car::Sheet& sheet,
                          const physics::DrawSettings& settings, const By& by) {
  const EnsembleKey key = key_of(toml, settings.members, settings.seed);
  OfJob out;
  FW_TRY(const std::optional<std::string> kept, job.ensemble_for(key));
  if (kept) {
    FW_TRY(out.drawn, physics::drawn_from_bytes(*kept));
  } else {
    FW_TRY(out.drawn, physics::draw_engines(sheet, advice::places_for(sheet), settings));
    out.drawn_now = true;
    FW_CHECK(job.keep_ensemble(key, physics::to_bytes(out.drawn), by));
  }
  const std::string last =
      nlohmann::json{{"members", settings.members}, {"seed", settings.seed}}.dump();
  FW_TRY(const std::optional<std::string> before, job.setting(kLastPrediction));
  if (before != last) FW_CHECK(job.set_setting(kLastPrediction, last, by));
  return out;
}

Result<std::optional<int>> last_members(const Job& job) {
  FW_TRY(const std::optional<Last> last, last_of(job));
  return last ? std::optional<int>(last->members) : std::nullopt;
}

Result<std::optional<physics::Drawn>> last_ensemble(const Job& job) {
  FW_TRY(const std::string toml, job.sheet_toml());
  return last_ensemble(job, toml);
}

Result<std::optional<physics::Drawn>> last_ensemble(const Job& job, const std::string& toml) {
  FW_TRY(const std::optional<Last> last, last_of(job));
  if (!last) return std::optional<physics::Drawn>{};
  FW_TRY(const std::optional<std::string> kept,
         job.ensemble_for(key_of(toml, last->members, last->seed)));
  if (!kept) return std::optional<physics::Drawn>{};
  FW_TRY(physics::Drawn drawn, physics::drawn_from_bytes(*kept));
  return std::optional<physics::Drawn>(std::move(drawn));
}

Status keep_suspects(Job& job, const std::string& toml, const car::Sheet& sheet,
                     const physics::Drawn& drawn, const physics::MapSettings& settings,
                     const By& by) {
  const EnsembleKey key = suspects_key(toml);
  FW_TRY(const std::optional<std::string> kept, job.ensemble_for(key));
  if (kept) return Done{};
  FW_TRY(const auto suspects, physics::draw_suspects(sheet, drawn.places, settings));
  return job.keep_ensemble(key, physics::to_bytes(suspects), by);
}

Result<std::optional<physics::Ensemble>> whole_ensemble(const Job& job) {
  FW_TRY(const std::string toml, job.sheet_toml());
  FW_TRY(std::optional<physics::Drawn> drawn, last_ensemble(job, toml));
  if (!drawn) return std::optional<physics::Ensemble>{};
  physics::EnsembleSettings settings;
  FW_TRY(const std::optional<std::string> kept, job.ensemble_for(suspects_key(toml)));
  if (kept) {
    FW_TRY(settings.suspects, physics::suspects_from_bytes(*kept, drawn->nodes()));
  }
  return std::optional<physics::Ensemble>(std::in_place, std::move(*drawn), settings);
}

Result<Believed> believed(const physics::Ensemble& ensemble, const car::Grid& grid) {
  FW_TRY(const Eigen::MatrixXd weights, physics::weights_onto(ensemble, grid));
  const Eigen::VectorXd mean = weights * ensemble.mean();
  Believed out{{grid, {}}, {}};
  for (Eigen::Index i = 0; i < mean.size(); ++i) out.ve.values.push_back(std::exp(mean[i]));
  out.prior.description = fmt::format(
      "the engine computed from its parts, {} engines that could be this one", ensemble.members());
  const auto shared = std::make_shared<const physics::Ensemble>(ensemble);
  out.prior.given = [shared](const car::Grid& onto) -> Eigen::MatrixXd {
    const auto w = physics::weights_onto(*shared, onto);
    EXPECTS(w.ok());  // the same kinds of axes as above
    return *w * shared->covariance() * w->transpose();
  };
  return out;
}

Result<Weighed> weighed(const physics::Ensemble& ensemble, const car::Surface& found,
                        const advice::Prior& about_found) {
  FW_TRY(const Believed parts, believed(ensemble, found.grid));
  const Eigen::MatrixXd K_e = advice::covariance(parts.prior, found.grid);
  const Eigen::MatrixXd K_t = advice::covariance(about_found, found.grid);
  const auto n = static_cast<Eigen::Index>(found.values.size());
  Eigen::VectorXd apart(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto k = static_cast<std::size_t>(i);
    apart[i] = std::log(found.values[k] / parts.ve.values[k]);
  }
  const Eigen::LDLT<Eigen::MatrixXd> S(K_e + K_t);
  const Eigen::VectorXd seen = S.solve(apart);
  const Eigen::VectorXd moved = K_e * seen;
  Eigen::MatrixXd K = K_e - K_e * S.solve(K_e);  // (estimate.8)
  K = 0.5 * (K + K.transpose()).eval();
  Weighed out{{parts.ve, {}}, apart.dot(seen) / static_cast<double>(n)};
  for (Eigen::Index i = 0; i < n; ++i) {
    out.both.ve.values[static_cast<std::size_t>(i)] *= std::exp(moved[i]);
  }
  out.both.prior.description =
      parts.prior.description + ", weighed against the table as found (8 % smooth, 6 % level)";
  out.both.prior.given = [K, grid = found.grid](const car::Grid& onto) {
    EXPECTS(onto == grid);
    return K;
  };
  return out;
}

std::optional<physics::FamilyTest> family_of(const physics::Ensemble& ensemble,
                                             const car::Evidence& evidence,
                                             const Believed& before_driving) {
  constexpr int kFewest = 4;
  const auto weights = physics::weights_onto(ensemble, evidence.grid);
  if (!weights) return std::nullopt;
  const Eigen::MatrixXd prior = advice::covariance(before_driving.prior, evidence.grid);
  std::vector<Eigen::Index> rows;
  std::vector<double> y, noise;
  for (std::size_t i = 0; i < evidence.mark.size(); ++i) {
    const auto k = static_cast<Eigen::Index>(i);
    const double after = evidence.sd_log[i] * evidence.sd_log[i], before = prior(k, k);
    if (evidence.mark[i] != car::NodeMark::measured || !(after < 0.9 * before)) continue;
    const double own = 1 / (1 / after - 1 / before);
    rows.push_back(k);
    noise.push_back(own);
    // What the readings alone say: the answer with the prior's pull taken back.
    const double mean = std::log(before_driving.ve.values[i]);
    y.push_back(mean + (std::log(evidence.estimate[i]) - mean) * before / (before - after));
  }
  if (static_cast<int>(rows.size()) < kFewest) return std::nullopt;
  physics::Observed seen;
  const auto n = static_cast<Eigen::Index>(rows.size());
  seen.rows.resize(n, weights->cols());
  seen.ln_ve.resize(n);
  seen.noise = Eigen::MatrixXd::Zero(n, n);
  for (Eigen::Index r = 0; r < n; ++r) {
    seen.rows.row(r) = weights->row(rows[static_cast<std::size_t>(r)]);
    seen.ln_ve[r] = y[static_cast<std::size_t>(r)];
    seen.noise(r, r) = noise[static_cast<std::size_t>(r)];
  }
  const auto narrowed = physics::narrow(ensemble, seen);
  if (!narrowed) return std::nullopt;
  return narrowed->family;
}

}  // namespace fuelwright::service
