/// What the first-start list must know beside the sheet: asked only where it changes the list.
///
///   for (const StartQuestion& q : questions_of(sheet, answers))
///     if (q.answer.empty()) FW_CHECK(answer_question(answers, q.id, ask(q.text, q.options)));
///
/// Which questions there are depends on the answers before: whoever asks one by one asks again for
/// the list after each answer.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "car/build/sheet.h"

namespace fuelwright::advice {

enum class TappetAnswer { flat, roller, not_known };
/// Distributor, crank trigger or camshaft drive since the engine last ran well.
enum class TimingAnswer {
  untouched,
  checked,    ///< moved or new, and set against the crank's mark by whoever starts it
  unchecked,  ///< moved or new; set by somebody else, or not known
};

struct StartAnswers {
  std::optional<bool> fresh_engine;     ///< new, rebuilt, or stood for more than a year
  std::optional<bool> new_cam;          ///< camshaft or tappets that have never run
  std::optional<TappetAnswer> tappets;  ///< asked where the sheet does not state them
  std::optional<bool> fuel_opened;      ///< any joint, hose, rail, injector or regulator of it
  std::optional<bool> cooling_opened;   ///< coolant drained or a hose off
  std::optional<TimingAnswer> timing;
  friend bool operator==(const StartAnswers&, const StartAnswers&) = default;
};

struct StartOption {
  std::string give;   ///< "yes"
  std::string means;  ///< "there is a new camshaft or new tappets"
};
struct StartQuestion {
  std::string id;  ///< "new_cam"
  std::string text;
  std::vector<StartOption> options;
  std::string changes;  ///< what of the list hangs on it
  std::string answer;   ///< what was given, as `give`; empty: open
};

/// Those that matter for this sheet and these answers, in the order to ask; answered ones too.
std::vector<StartQuestion> questions_of(const car::Sheet& sheet, const StartAnswers& answers);
/// The first of them that has no answer.
std::optional<StartQuestion> open_question(const car::Sheet& sheet, const StartAnswers& answers);
/// Takes one answer as written ("yes", "y", "flat"). Errors: not_found for an id that is none;
/// bad_input naming what came and what may be given.
Status answer_question(StartAnswers& answers, std::string_view id, std::string_view text);

/// How the valves are driven, from the sheet where it says so, else from the answer.
struct Tappets {
  bool flat = false;      ///< flat on the lobe, in the block: wants running in when new
  bool certain = true;    ///< false: not known, and taken as flat because that is the safe side
  bool solid = false;     ///< lash is set
  bool overhead = false;  ///< directly under an overhead cam
};
Tappets tappets_of(const car::Sheet& sheet, const StartAnswers& answers);

/// Whether the list has a run-in of the cam: new, and flat or not known.
bool cam_runs_in(const car::Sheet& sheet, const StartAnswers& answers);

}  // namespace fuelwright::advice
