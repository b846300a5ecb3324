/// What could be wrong with a recording or with what was said of it, and how probable that is.
///
///   for (const Doubt& d : doubts_about(asked)) if (d.refuse()) leave_out(d.says);
///
/// Each doubt is a claim with its own effect on the rows, tested by likelihood against "all is
/// well" (odds.h), with the probability it has before looking. Robust, so that a few odd rows
/// decide nothing; rows that repeat each other count once.
///
///   the unit corrected             g = dc/dI in many windows, I the integrated error (doubts.10)
///   its correction never arrived   k ln(1+c), k = 0 against k = 1
///   it moved its own table         s L, L = phi' (integral of phi c dt)              (doubts.6)
///   another table was in it        a field of 4 % against one of 0.7 %
///   another count of injectors     the level, ln(count said/count there)             (doubts.7)
///   air leaks into the exhaust     A m_ref/m, by metered air or the prior            (doubts.8)
///   a lazy sensor                  ln lag ~ N(ln 0.6 s, 0.6^2) against the usual     (doubts.9)
///
/// Theory, rates of detection and of false alarm: docs/theory/doubts.md.
#pragma once

#include <string>
#include <vector>

#include "advice/doubts/odds.h"
#include "advice/map_estimate/prior.h"
#include "car/build/sheet.h"
#include "signals/recording/recording.h"

namespace fuelwright::advice::doubts {

enum class Kind {
  unit_corrected,   ///< said to run open loop, but the mixture was corrected
  not_applied,      ///< the correction that was recorded did not reach the fuel
  self_correction,  ///< the unit moved its own table during the drive
  other_table,      ///< the fuel is not what the table makes: another one, or learned corrections
  count,            ///< the fuel or air of another number of injectors
  exhaust_leak,     ///< lean at low flow, right at high flow
  lazy_sensor,      ///< the mixture sensor answers slowly
};
const char* name_of(Kind kind);  ///< "unit_corrected"

/// Shown in words from here; refused from here: 19 of 20.
inline constexpr double kMentioned = 0.5;
inline constexpr double kRefused = 0.95;

struct Doubt {
  Kind kind = Kind::unit_corrected;
  double ln_b = 0;         ///< evidence of this recording for it, ln of a Bayes factor
  double probability = 0;  ///< with what is usual
  double size = 0;         ///< its own unit: 1/s, share, 1/min, share, factor, share, s
  double size_sd = 0;
  std::string says;    ///< one sentence for people, without a full stop
  bool spoils = true;  ///< what the recording says of the table would be wrong
  bool refuse() const { return spoils && probability >= kRefused; }
};

/// What is asked about. Everything must outlive the call.
struct Asked {
  const signals::Recording& recording;
  const car::Sheet& sheet;
  const car::Surface* driven = nullptr;  ///< VE table in the unit, with what it had learned
  const car::Surface& believed;          ///< VE before driving ...
  const Prior& prior;                    ///< ... and how sure
  bool open_loop = false;                ///< said by the person
  bool absolute = false;                 ///< the recording would be used for VE itself
};

/// All that could be examined, refused or not, the most probable first; empty if nothing could be
/// (no clock, nothing warm). Cost: about 20 ms for ten minutes at 20 Hz.
std::vector<Doubt> doubts_about(const Asked& asked);

/// From the sensor's lag as a dynamic estimate found it: ln of seconds, with the prior it was found
/// with (doubts.9).
Doubt lazy_sensor(const About& ln_lag, const About& prior_ln_lag);

}  // namespace fuelwright::advice::doubts
