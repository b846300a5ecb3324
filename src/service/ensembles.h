/// The ensemble of a job's sheet: kept in the job, keyed by the sheet, the model and the number of
/// members.
#pragma once

#include <optional>
#include <string>

#include "advice/map_estimate/prior.h"
#include "car/tables/evidence.h"
#include "physics/ensemble/condition.h"
#include "physics/ensemble/ensemble.h"
#include "service/job/job.h"

namespace fuelwright::service {

/// What decides an ensemble beside the sheet; changes whenever the model's numbers do.
inline constexpr const char* kBreathingModel = "breathing 1, whole, 16 x 10";

struct OfJob {
  physics::Drawn drawn;
  bool drawn_now = false;
};
/// Kept, or drawn and then kept. Errors: those of draw_engines() and of the job.
Result<OfJob> ensemble_of(Job& job, const std::string& toml, const car::Sheet& sheet,
                          const physics::DrawSettings& settings, const By& by);

/// How many engines the last prediction was made from; none if there was none.
Result<std::optional<int>> last_members(const Job& job);
/// The one the last prediction was made from, if it is of the sheet as it stands now.
Result<std::optional<physics::Drawn>> last_ensemble(const Job& job);
/// The same of another sheet, if it was predicted with as many members.
Result<std::optional<physics::Drawn>> last_ensemble(const Job& job, const std::string& toml);

/// The engines that one outside its family could be are computed and kept, unless they are already:
/// its family test then looks along them. Errors: those of draw_suspects() and of the job.
Status keep_suspects(Job& job, const std::string& toml, const car::Sheet& sheet,
                     const physics::Drawn& drawn, const physics::MapSettings& settings,
                     const By& by);

/// last_ensemble() with its suspects, if they are kept.
Result<std::optional<physics::Ensemble>> whole_ensemble(const Job& job);

/// What is believed about VE before driving, from the ensemble: the surface on a grid, and the
/// prior around it.
struct Believed {
  car::Surface ve;
  advice::Prior prior;
};
/// Errors: bad_input for a throttle axis.
Result<Believed> believed(const physics::Ensemble& ensemble, const car::Grid& grid);

/// Two beliefs about one engine, weighed against each other: computed from its parts N(m_e, K_e),
/// and what somebody had found good N(ln found, K_t):
///
///   S = K_e + K_t,   m = m_e + K_e S^-1 (ln found - m_e),   K = K_e - K_e S^-1 K_e   (estimate.8)
struct Weighed {
  Believed both;
  double chi2_per_node = 0;  ///< of the one against the other; about 1 or less if they fit
  bool fits() const { return chi2_per_node < 2; }
};
/// Errors: bad_input for a throttle axis.
Result<Weighed> weighed(const physics::Ensemble& ensemble, const car::Surface& found,
                        const advice::Prior& about_found);

/// Whether an engine whose evidence was made with a prior belongs to the ensemble: the measured
/// nodes against what had been predicted of them. Their own noise is what the prior lost there, R =
/// 1/(1/s_after^2 - 1/s_before^2); between nodes it is taken as independent. None if too few nodes
/// are measured (4).
std::optional<physics::FamilyTest> family_of(const physics::Ensemble& ensemble,
                                             const car::Evidence& evidence, const Believed& before);

}  // namespace fuelwright::service
