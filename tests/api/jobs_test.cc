// Jobs and their sheets.
#include "workshop.h"

namespace fuelwright::tests {
namespace {

class Jobs : public Workshop {
 protected:
  Json line(const Json& sheet, const std::string& section, const std::string& key) {
    for (const Json& l : sheet) {
      if (l.at("section") == section && l.at("key") == key) return l;
    }
    return nullptr;
  }
};

TEST_F(Jobs, FiveAnswersMakeAJobThatIsListed) {
  const Json questions = get("/api/v1/questions").json().at("questions");
  ASSERT_EQ(questions.size(), 5U);
  Json answers = Json::array();
  for (const Json& q : questions) {
    // The example of a question is an answer to it; of several, the first.
    std::string example = q.at("example");
    const auto comma = example.find(", ");
    answers.push_back(example.substr(0, comma));
  }
  const Reply understood = send("POST", "/api/v1/questions/check",
                                {{"id", questions[0].at("id")}, {"answer", "350 cu in"}});
  EXPECT_EQ(understood.status, 200) << understood.text;
  const Reply wrong =
      send("POST", "/api/v1/questions/check", {{"id", questions[0].at("id")}, {"answer", "many"}});
  EXPECT_GE(wrong.status, 400);
  EXPECT_NE(wrong.message().find("many"), std::string::npos) << wrong.text;
  new_job("my car");
  const Json jobs = get("/api/v1/jobs").json().at("jobs");
  ASSERT_EQ(jobs.size(), 1U);
  EXPECT_EQ(jobs[0].at("job"), "my car");
  EXPECT_TRUE(jobs[0].at("problem").is_null());
  EXPECT_EQ(get("/api/v1/jobs/my%20car").json().at("revisions").size(), 1U);
  const Reply again =
      send("POST", "/api/v1/jobs",
           {{"job", "my car"},
            {"answers", {"350 cu in", "8", "222 deg", "30 lb/h at 43.5 psi", "E10"}}});
  EXPECT_EQ(again.status, 409) << again.text;
}

TEST_F(Jobs, OneValueOfTheSheetIsChangedTriedFirstAndJournaled) {
  new_job();
  const Json before = get("/api/v1/jobs/v8/sheet").json();
  EXPECT_EQ(before.at("worth_of"), "none");
  EXPECT_EQ(line(before.at("sheet"), "engine", "compression").at("source"), "typical");
  const Json change{{"changes",
                     {{{"section", "engine"},
                       {"key", "compression"},
                       {"value", "10.2 +- 0.1"},
                       {"source", "measured"},
                       {"note", "burette"}}}},
                    {"seen", before.at("head")}};
  Json tried = change;
  tried["dry_run"] = true;
  const Reply dry = send("PATCH", "/api/v1/jobs/v8/sheet", tried);
  ASSERT_EQ(dry.status, 200) << dry.text;
  EXPECT_EQ(dry.json().at("written"), false);
  EXPECT_EQ(dry.json().at("head"), before.at("head"));
  EXPECT_EQ(
      line(get("/api/v1/jobs/v8/sheet").json().at("sheet"), "engine", "compression").at("source"),
      "typical");
  const Reply done = send("PATCH", "/api/v1/jobs/v8/sheet", change);
  ASSERT_EQ(done.status, 200) << done.text;
  const Json after = get("/api/v1/jobs/v8/sheet").json();
  const Json now = line(after.at("sheet"), "engine", "compression");
  EXPECT_EQ(now.at("source"), "measured");
  EXPECT_DOUBLE_EQ(now.at("si")[0], 10.2);
  EXPECT_DOUBLE_EQ(now.at("tolerance_si"), 0.1);
  EXPECT_EQ(after.at("given").get<int>(), before.at("given").get<int>() + 1);
  const Json journal =
      get("/api/v1/jobs/v8/journal?after=" + before.at("head").dump()).json().at("journal");
  ASSERT_EQ(journal.size(), 1U);
  EXPECT_EQ(journal[0].at("command"), "sheet");
  // Another tab that looked before is told.
  const Reply late = send("PATCH", "/api/v1/jobs/v8/sheet", change);
  EXPECT_EQ(late.status, 409) << late.text;
  // And off the sheet again.
  const Reply off =
      send("PATCH", "/api/v1/jobs/v8/sheet",
           {{"changes", {{{"section", "engine"}, {"key", "compression"}, {"value", nullptr}}}}});
  ASSERT_EQ(off.status, 200) << off.text;
  EXPECT_EQ(line(off.json().at("sheet"), "engine", "compression").at("source"), "typical");
}

TEST_F(Jobs, AValueThatCannotBeIsRefusedWithItsPlace) {
  new_job();
  const auto put = [&](const char* section, const char* key, const Json& value) {
    return send("PATCH", "/api/v1/jobs/v8/sheet",
                {{"changes", {{{"section", section}, {"key", key}, {"value", value}}}}});
  };
  const Reply wild = put("engine", "compression", "40");
  EXPECT_EQ(wild.status, 422) << wild.text;
  EXPECT_EQ(wild.json().at("error").at("where"), "engine.compression") << wild.text;
  EXPECT_EQ(put("engine", "compresion", "10").code(), "not_found");
  EXPECT_NE(put("engine", "compresion", "10").message().find("compression"), std::string::npos);
  EXPECT_EQ(put("motor", "compression", "10").code(), "not_found");
  EXPECT_EQ(put("engine", "bore", "4 furlongs").status, 422);
  // Nothing slips in beside a value: it is quoted, and the sheet is the same but for the name.
  const Reply odd = put("engine", "name", "a \" ] = \n[engine]");
  EXPECT_EQ(odd.status, 200) << odd.text;
  EXPECT_EQ(odd.json().at("changed").size(), 1U) << odd.text;
  EXPECT_EQ(put("engine", "firing_order", "1, 8, 4, 3, 6, 5, 7, 2").status, 200);
  EXPECT_EQ(put("engine", "firing_order", {1, 8, 4, 3, 6, 5, 7, 2}).status, 200);
  const Reply whole =
      send("PUT", "/api/v1/jobs/v8/sheet", {{"sheet", "[engine]\nbore = \"20 mm\"\n"}});
  EXPECT_EQ(whole.status, 422);
  EXPECT_EQ(send("PUT", "/api/v1/jobs/v8/units", {{"units", "metric"}}).status, 200);
  EXPECT_EQ(get("/api/v1/jobs/v8").json().at("units"), "metric");
}

TEST_F(Jobs, APredictionIsWorkThatTellsHowFarItIsAndStops) {
  new_job();
  const Reply put_up = send("POST", "/api/v1/jobs/v8/predict", {{"members", 512}});
  ASSERT_EQ(put_up.status, 202) << put_up.text;
  const std::string id = put_up.json().at("id").dump();
  const Reply twice = send("POST", "/api/v1/jobs/v8/predict", {{"members", 512}});
  EXPECT_EQ(twice.json().at("id").dump(), id);  // two tabs share it
  // A stream tells of it.
  std::string told;
  auto c = client();
  c.Get("/api/v1/events?job=v8", [&](const char* data, std::size_t n) {
    told.append(data, n);
    return told.find("event: work") == std::string::npos && told.size() < 100'000;
  });
  EXPECT_NE(told.find("\"do\":\"predict\""), std::string::npos) << told;
  const Reply stop = send("DELETE", "/api/v1/long-work/" + id, nullptr);
  EXPECT_EQ(stop.status, 200) << stop.text;
  const Json end = get("/api/v1/long-work/" + id + "?wait=25").json();
  EXPECT_EQ(end.at("state"), "cancelled") << end;
  const Json now = get("/api/v1/jobs/v8").json();
  EXPECT_EQ(now.at("revisions").size(), 1U);
  EXPECT_EQ(get("/api/v1/long-work?job=v8").json().at("work").size(), 1U);
}

}  // namespace
}  // namespace fuelwright::tests
