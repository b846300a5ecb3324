#include <fmt/format.h>
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <string>

namespace {

struct Answer {
  int code = -1;
  std::string out;  // stdout and stderr together
};

class Cli : public testing::Test {
 protected:
  void SetUp() override {
    std::string name = (std::filesystem::temp_directory_path() / "fuelwright_cli_XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder_ = name;
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  Answer run(const std::string& arguments, const std::string& input = "",
             bool errors = true) const {
    write("input.txt", input);
    const std::string command = "cd '" + folder_ + "' && '" FUELWRIGHT_PROGRAM "' " + arguments +
                                " < input.txt" + (errors ? " 2>&1" : " 2>/dev/null");
    Answer a;
    std::FILE* pipe = popen(command.c_str(), "r");
    std::array<char, 4096> buffer{};
    for (std::size_t n; (n = fread(buffer.data(), 1, buffer.size(), pipe)) > 0;)
      a.out.append(buffer.data(), n);
    a.code = WEXITSTATUS(pclose(pipe));
    return a;
  }
  void write(const std::string& name, const std::string& text) const {
    std::ofstream(folder_ + "/" + name, std::ios::binary) << text;
  }
  std::string folder_;
};

const char* kFive = "350 cu in\n8\n222 deg\n30 lb/h at 43.5 psi\nE10\n";

TEST_F(Cli, TheProgramSaysItsVersion) {
  const Answer a = run("--version");
  EXPECT_EQ(a.code, 0);
  EXPECT_EQ(a.out.rfind("fuelwright 0.", 0), 0U) << a.out;
}

TEST_F(Cli, FiveAnswersMakeAJobAndItsSheetShowsWhatIsTypical) {
  const Answer a = run("new -o coupe.fw", kFive);
  EXPECT_EQ(a.code, 0) << a.out;
  const Answer sheet = run("show coupe.fw sheet");
  EXPECT_EQ(sheet.code, 0);
  EXPECT_NE(sheet.out.find("typical"), std::string::npos);
  EXPECT_NE(sheet.out.find("222.0 deg"), std::string::npos) << sheet.out;
}

// What cannot be asked is answered before any engine is drawn.
TEST_F(Cli, ASizeThatCannotBeIsOneClearLine) {
  EXPECT_EQ(run("size nowhere.fw").code, 5);
  ASSERT_EQ(run("new -o coupe.fw", kFive).code, 0);
  const Answer bare = run("size coupe.fw --boost 40");
  EXPECT_EQ(bare.code, 2) << bare.out;
  EXPECT_NE(bare.out.find("--boost"), std::string::npos) << bare.out;
  const Answer much = run("size coupe.fw --boost \"9 bar\"");
  EXPECT_NE(much.out.find("expected 1 to 300 kPa"), std::string::npos) << much.out;
  const Answer half = run("size coupe.fw --measured pump_volts");
  EXPECT_EQ(half.code, 2) << half.out;
  EXPECT_NE(half.out.find("pump_volts=12.4 V"), std::string::npos) << half.out;
  const Answer other = run("size coupe.fw --measured \"pump_vols=12 V\"");
  EXPECT_EQ(other.code, 5) << other.out;
  EXPECT_NE(other.out.find("perhaps pump_volts"), std::string::npos) << other.out;
  for (const Answer& a : {bare, much, half, other})
    EXPECT_EQ(std::count(a.out.begin(), a.out.end(), '\n'), 1) << a.out;
}

TEST_F(Cli, AnAnswerThatCannotBeIsOneClearLineAndMakesNoJob) {
  const Answer a = run("new -o coupe.fw", "350 cu in\n8\n222 bananas\n");
  EXPECT_EQ(a.code, 3) << a.out;
  EXPECT_NE(a.out.find("bananas"), std::string::npos);
  EXPECT_FALSE(std::filesystem::exists(folder_ + "/coupe.fw"));
}

TEST_F(Cli, ASheetErrorNamesItsLine) {
  write("bad.toml", "[engine]\nbore = \"20 mm\"\nstroke = \"80 mm\"\ncylinders = 4\n");
  const Answer a = run("new bad.toml -o coupe.fw");
  EXPECT_EQ(a.code, 3) << a.out;
  EXPECT_NE(a.out.find("bad.toml:2"), std::string::npos) << a.out;
  EXPECT_EQ(std::count(a.out.begin(), a.out.end(), '\n'), 1) << a.out;
}

TEST_F(Cli, WrongUseIsExitCodeTwoAndAMissingJobFive) {
  EXPECT_EQ(run("").code, 2);
  EXPECT_EQ(run("fly").code, 2);
  EXPECT_EQ(run("show nowhere.fw").code, 5);
  EXPECT_EQ(run("estimate nowhere.fw").code, 5);
  ASSERT_EQ(run("new -o coupe.fw", kFive).code, 0);
  EXPECT_EQ(run("new -o coupe.fw", kFive).code, 6);  // it exists
  EXPECT_EQ(run("show coupe.fw jurnal").code, 2);
  EXPECT_EQ(run("accept coupe.fw").code, 5);  // nothing is proposed
}

TEST_F(Cli, AQuestionThatIsOpenIsExitCodeFourAndNamesTheOptionThatAnswersIt) {
  ASSERT_EQ(run("new -o coupe.fw", kFive).code, 0);
  std::string csv = "Time (s),RPM,MAP (kPa),AFR,AFR target\n";
  for (int i = 0; i < 60; ++i) csv += std::to_string(0.1 * i) + ",1800,45,14.2,14.1\n";
  write("drive.csv", csv);
  const Answer a = run("add coupe.fw drive.csv");
  EXPECT_EQ(a.code, 4) << a.out;
  EXPECT_NE(a.out.find("--channel"), std::string::npos) << a.out;
  EXPECT_EQ(run("add coupe.fw drive.csv --afr-constant 14.7").code, 0);
  EXPECT_EQ(run("estimate coupe.fw").code, 4);  // closed loop or not? nobody said
}

TEST_F(Cli, AGaugeConstantThatCannotBeIsRefusedInOneLine) {
  ASSERT_EQ(run("new -o coupe.fw", kFive).code, 0);
  write("drive.csv", "Time (s),RPM,MAP (kPa),AFR\n0,1800,45,14.2\n1,1800,45,14.2\n");
  for (const char* constant : {"0", "-14.7", "147", "nan"}) {
    const Answer a = run(std::string("add coupe.fw drive.csv --afr-constant ") + constant);
    EXPECT_EQ(a.code, 2) << constant << ": " << a.out;
  }
}

TEST_F(Cli, UnitsAreThePersonsAndAreKeptInTheJob) {
  ASSERT_EQ(run("new -o coupe.fw", kFive).code, 0);
  EXPECT_NE(run("show coupe.fw sheet --units us").out.find("350.0 cu in"), std::string::npos);
  EXPECT_NE(run("show coupe.fw sheet").out.find("350.0 cu in"), std::string::npos);
  EXPECT_NE(run("show coupe.fw sheet --units metric").out.find("5.735 l"), std::string::npos);
  EXPECT_EQ(run("show coupe.fw --units furlong").code, 2);
}

TEST_F(Cli, TheDemoEndsWithWhatIsKnownAndWhatIsNot) {
  const Answer a = run("demo");
  ASSERT_EQ(a.code, 0) << a.out;
  const auto last = a.out.rfind("Where it was driven VE is known to");
  ASSERT_NE(last, std::string::npos) << a.out;
  EXPECT_NE(a.out.find("guess", last), std::string::npos);
  EXPECT_TRUE(std::filesystem::exists(folder_ + "/demo/ve.tsv"));
  EXPECT_EQ(a.out.find('\r'), std::string::npos);  // no progress on a pipe
  EXPECT_NE(a.out.find("Peak about "), std::string::npos);
  EXPECT_NE(a.out.find("What to measure next"), std::string::npos);
  // Before and after, as the truth knows it and as the recorder can see it.
  EXPECT_NE(a.out.find("The owner's roads with revision 1, the computed table: "),
            std::string::npos);
  EXPECT_NE(a.out.find("The same roads with revision 3: "), std::string::npos);
  // The sensors, the plan as it is read out, and the car that drives it.
  EXPECT_NE(a.out.find("== check: the sensors with the key on"), std::string::npos);
  EXPECT_NE(a.out.find("The helper reads out:"), std::string::npos);
  // Nearly all: this car asks for less pressure on the road than its parts let expect.
  EXPECT_TRUE(a.out.find("steps, all of them to their end") != std::string::npos ||
              a.out.find("steps, 1 of them not to their end") != std::string::npos)
      << a.out;
  EXPECT_NE(a.out.find("What the plan said, and what came"), std::string::npos);
  EXPECT_TRUE(std::filesystem::exists(folder_ + "/demo/next.toml"));
  EXPECT_NE(a.out.find(" % by the recorder"), std::string::npos);
  EXPECT_NE(a.out.find("kept in examples/street_v8_truth.toml"), std::string::npos);
  EXPECT_EQ(run("demo --found").code, 0);  // in the same place, another start
  EXPECT_EQ(run("predict demo/street_v8.fw --members 3").code, 3);
  EXPECT_EQ(run("predict nowhere.fw").code, 5);
}

TEST_F(Cli, ATableChangedByHandIsShownFirstThenMadeARevisionAndTakenBack) {
  write("ve.tsv", "MAP kPa \\ rpm\t1000\t2000\n40\t50\t50\n80\t50\t50\n");
  write("part.csv", "kPa \\ rpm;2000\n80;55,0\n");
  write("sheet.toml",
        "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\n[cam]\nintake_duration_050 = \"218 "
        "deg\"\n"
        "[injection]\ninjector_flow = \"30 lb/h at 43.5 psi\"\n[fuel]\nname = \"E10\"\n");
  ASSERT_EQ(run("new sheet.toml --table ve.tsv -o coupe.fw").code, 0);
  const Answer shown = run("bring-in coupe.fw part.csv --dry-run");
  EXPECT_EQ(shown.code, 0) << shown.out;
  EXPECT_NE(shown.out.find("nothing is written yet"), std::string::npos) << shown.out;
  EXPECT_EQ(run("bring-in coupe.fw part.csv").code, 2);  // no reason
  const Answer done = run("bring-in coupe.fw part.csv --seen 0 --why 'surges at cruise'");
  EXPECT_EQ(done.code, 0) << done.out;
  EXPECT_EQ(done.out.rfind("Revision 1 is in force, by hand: VE: 1 of 4 nodes", 0), 0U) << done.out;
  EXPECT_EQ(run("bring-in coupe.fw part.csv --seen 0 --why again").code, 6);
  EXPECT_NE(run("compare coupe.fw 0 1").out.find("+10.0"), std::string::npos);
  EXPECT_EQ(run("compare coupe.fw 0 3").code, 5);
  EXPECT_NE(run("show coupe.fw journal").out.find("surges at cruise"), std::string::npos);
  EXPECT_EQ(run("revert coupe.fw 0 --why worse").code, 0);
  EXPECT_EQ(run("revert coupe.fw 0").code, 6);
  EXPECT_NE(run("export coupe.fw").out.find("80\t50\t50"), std::string::npos);
}

TEST_F(Cli, ThePipedClipboardIsReadAndWhatIsOpenOrWrongIsOneLine) {
  ASSERT_EQ(run("demo --found").code, 0);
  const std::string job = "demo/street_v8.fw";
  const Answer part = run("bring-in " + job + " - --dry-run --at '1500 rpm, 60 kPa'", "71\t72\n");
  EXPECT_EQ(part.code, 0) << part.out;
  EXPECT_NE(part.out.find("2 of 256 nodes came"), std::string::npos) << part.out;
  const auto refused = [&](const std::string& input, int code, const char* says) {
    const Answer a = run("bring-in " + job + " - --why x", input);
    EXPECT_EQ(a.code, code) << a.out;
    EXPECT_NE(a.out.find(says), std::string::npos) << a.out;
    EXPECT_EQ(std::count(a.out.begin(), a.out.end(), '\n'), 1) << a.out;
  };
  refused("71\t72\n", 4, "--at");
  refused("kPa \\ rpm\t1111\t2222\n60\t71\t72\n", 4, "--interpolate");
  refused("kPa \\ rpm\t1,500\n60\t71\n", 4, "--decimal");
  refused("71\t=A1\n", 3, "formula");
  refused("", 3, "empty");
  const Answer json =
      run("bring-in " + job + " - --dry-run --json --at '1500 rpm, 60 kPa'", "71\t72\n");
  EXPECT_EQ(nlohmann::json::parse(json.out)["tables"][0]["nodes_that_came"], 2);
  for (const char* form : {"csv", "tsv", "json", "cdf"}) {
    ASSERT_EQ(run("export " + job + " --form " + form + " -o t").code, 0);
    EXPECT_NE(run("bring-in " + job + " t --why x").out.find("Nothing changes"), std::string::npos);
  }
}

TEST_F(Cli, AVirtualCarDrivesACycleAgainTheSameWithItsTruthFromAFile) {
  write("five.toml",
        "[engine]\ndisplacement = \"1.2 l\"\ncylinders = 4\n[cam]\nintake_duration_050 = \"200 "
        "deg\"\n[injection]\ninjector_flow = \"150 cc/min at 3 bar\"\n[fuel]\nname = \"E10\"\n");
  write("cycle.csv", "time_s,speed_kmh\n0,0\n5,0\n15,40\n40,40\n50,0\n");
  const Answer bad = run("car five.toml --cycle cycle.csv --fault gremlins -o a.csv");
  EXPECT_EQ(bad.code, 3) << bad.out;
  EXPECT_NE(bad.out.find("vacuum_leak"), std::string::npos);
  const Answer a =
      run("car five.toml --cycle cycle.csv --seed 3 --truth-out t.toml --calibration-out c.json -o "
          "a.csv");
  ASSERT_EQ(a.code, 0) << a.out;
  const Answer b =
      run("car five.toml --cycle cycle.csv --seed 3 --truth-in t.toml --calibration c.json -o "
          "b.csv --json");
  ASSERT_EQ(b.code, 0) << b.out;
  EXPECT_EQ(nlohmann::json::parse(b.out)["rows"], 1000);
  const auto text_of = [this](const char* name) {
    std::ifstream in(folder_ + "/" + name);
    return std::string(std::istreambuf_iterator<char>(in), {});
  };
  EXPECT_EQ(text_of("a.csv"), text_of("b.csv"));
  EXPECT_GT(text_of("a.csv").size(), 50000U);
}

TEST_F(Cli, AVirtualCarDrivesAPlanAndAPlanThatCannotBeIsOneLine) {
  write("five.toml",
        "[engine]\ndisplacement = \"1.2 l\"\ncylinders = 4\n[cam]\nintake_duration_050 = \"200 "
        "deg\"\n[injection]\ninjector_flow = \"150 cc/min at 3 bar\"\n[fuel]\nname = \"E10\"\n");
  write("bad.toml", "[[steps]]\nkind = \"hold\"\ngear = 2\nspeed = \"2000\"\ntime = \"5 s\"\n");
  const Answer bad = run("car five.toml --plan bad.toml -o a.csv");
  EXPECT_NE(bad.code, 0);
  EXPECT_EQ(bad.out.rfind("fuelwright: bad.toml:4: step 1: speed: ", 0), 0U) << bad.out;
  EXPECT_EQ(std::count(bad.out.begin(), bad.out.end(), '\n'), 1) << bad.out;
  EXPECT_EQ(run("car five.toml -o a.csv").code, 2);  // neither a cycle nor a plan
  write("plan.json",
        R"({"steps": [{"kind": "idle", "time": "6 s"},
                      {"kind": "hold", "gear": 2, "speed": "2200 rpm", "time": "8 s"},
                      {"kind": "sweep", "gear": 1, "from": "1500 rpm", "until": "19000 rpm"}]})");
  const Answer a = run("car five.toml --plan plan.json --json -o a.csv");
  ASSERT_EQ(a.code, 0) << a.out;
  const auto answer = nlohmann::json::parse(a.out);
  EXPECT_EQ(answer["steps"], 3);
  EXPECT_EQ(answer["steps_cut_short"], nlohmann::json::array({3}));  // the rev limit comes first
  EXPECT_GT(answer["seconds"], 14);
}

// The street V8 with the truth kept beside its sheet, so that no air is computed.
TEST_F(Cli, TheStreetV8DrivesTheEveningPlanAndItsRecordingTeachesAJob) {
  const std::string examples = FUELWRIGHT_SOURCE_DIR "/examples/";
  const std::string car = "car " + examples + "street_v8.toml --truth-in " + examples +
                          "street_v8_truth.toml --plan " + examples + "plans/evening.toml ";
  const Answer a = run(car + "--seed 4 -o evening.csv");
  ASSERT_EQ(a.code, 0) << a.out;
  EXPECT_EQ(a.out.rfind("evening.csv: ", 0), 0U) << a.out;
  EXPECT_NE(a.out.find(" of the plan "), std::string::npos) << a.out;
  const Answer none = run(car + "--learned-out learned.tsv -o none.csv");
  EXPECT_EQ(none.code, 6) << none.out;  // this unit learns nothing
  EXPECT_NE(none.out.find("self_correction_per_min"), std::string::npos) << none.out;
  ASSERT_EQ(run("new " + examples + "street_v8.toml -o coupe.fw").code, 0);
  EXPECT_EQ(run("add coupe.fw evening.csv --afr-constant 14.7").code, 0);
}

TEST_F(Cli, WhatAUnitLearnedComesOutOfTheCarAndGoesInWithItsRecording) {
  const std::string examples = FUELWRIGHT_SOURCE_DIR "/examples/";
  std::ifstream in(examples + "street_v8_truth.toml");
  std::string truth(std::istreambuf_iterator<char>(in), {});
  const std::string off = "self_correction_per_min = 0\n";
  ASSERT_NE(truth.find(off), std::string::npos);
  truth.replace(truth.find(off), off.size(), "self_correction_per_min = 0.5\n");
  write("learns.toml", truth);
  const Answer a = run("car " + examples + "street_v8.toml --truth-in learns.toml --cycle " +
                       examples + "cycles/town.csv --minutes 8 --calibration-out c.json " +
                       "--learned-out learned.tsv -o drive.csv");
  ASSERT_EQ(a.code, 0) << a.out;
  ASSERT_EQ(run("new " + examples + "street_v8.toml -o coupe.fw").code, 0);
  const Answer added = run("add coupe.fw drive.csv --afr-constant 14.7 --learned learned.tsv");
  EXPECT_EQ(added.code, 0) << added.out;
  EXPECT_NE(added.out.find("factors differ from 1"), std::string::npos) << added.out;
  write("two.tsv", "1.00\t1.02\n1.00\t1.01\n");
  const Answer bad = run("add coupe.fw drive.csv --afr-constant 14.7 --learned two.tsv");
  EXPECT_NE(bad.code, 0);
  EXPECT_EQ(std::count(bad.out.begin(), bad.out.end(), '\n'), 1) << bad.out;
  EXPECT_NE(bad.out.find("two.tsv"), std::string::npos) << bad.out;
}

TEST_F(Cli, CheckSaysFirstWhetherTheSensorsCanBeBelievedAndBadAnswersAreOneLine) {
  ASSERT_EQ(run("new -o coupe.fw", kFive).code, 0);
  std::string rows = "Time (s),RPM (rpm),MAP (kPa),Battery (V),Coolant (degC),Intake air (degC)\n";
  for (int i = 0; i < 400; ++i) {
    rows += fmt::format("{:.2f},0,{:.1f},12.6,15.1,{:.1f}\n", 0.05 * i, 92.0 + 0.1 * (i % 2),
                        15.0 + 0.1 * (i / 200));
  }
  write("key.csv", rows);
  ASSERT_EQ(run("add coupe.fw key.csv").code, 0);
  const Answer a = run("check coupe.fw --key-on key.csv --barometer '101.3 kPa' --units metric");
  EXPECT_EQ(a.code, 0) << a.out;  // a weak answer is an answer
  EXPECT_EQ(a.out.rfind("Do not trust these sensors yet; first put right: manifold pressure", 0),
            0U)
      << a.out;
  EXPECT_NE(a.out.find("Could not be checked"), std::string::npos) << a.out;
  EXPECT_NE(a.out.find("Rules of the guard"), std::string::npos) << a.out;
  const Answer us = run("check coupe.fw --key-on 1 --barometer '101.3 kPa' --units us");
  EXPECT_NE(us.out.find("inHg"), std::string::npos) << us.out;
  const auto one_line = [&](const std::string& arguments, int code, const char* about) {
    const Answer bad = run(arguments);
    EXPECT_EQ(bad.code, code) << bad.out;
    EXPECT_EQ(std::count(bad.out.begin(), bad.out.end(), '\n'), 1) << bad.out;
    EXPECT_NE(bad.out.find(about), std::string::npos) << bad.out;
  };
  one_line("check coupe.fw nothing.csv", 5, "nothing.csv");
  one_line("check coupe.fw --key-on 1 --barometer tall", 2, "--barometer");
  write("rules.json", "{\"format\":\"fuelwright guard rules 1\",\"rules\":[{\"rule\":\"luck\"}]}");
  one_line("check coupe.fw --guard-rules rules.json", 3, "rules.json");
}

TEST_F(Cli, EveryCommandSpeaksJsonToo) {
  ASSERT_EQ(run("demo --found").code, 0);
  for (const char* command :
       {"check demo/street_v8.fw --json", "show demo/street_v8.fw --json",
        "show demo/street_v8.fw journal --json", "estimate demo/street_v8.fw --json",
        "export demo/street_v8.fw --json", "compare demo/street_v8.fw 0 1 --json",
        "revert demo/street_v8.fw 0 --json", "demo --found --folder other --json"}) {
    const Answer a = run(command, "", false);
    EXPECT_EQ(a.code, 0) << command;
    EXPECT_TRUE(nlohmann::json::accept(a.out)) << command << "\n" << a.out.substr(0, 300);
  }
  const Answer wrong = run("show nowhere.fw --json", "", false);
  EXPECT_EQ(nlohmann::json::parse(wrong.out)["error"]["code"], "not_found");
}

TEST_F(Cli, APlanIsReadOutAndItsFileIsWhatACarDrives) {
  ASSERT_EQ(run("new -o coupe.fw", kFive).code, 0);
  const Answer a = run("plan coupe.fw --minutes 1 --top-speed '80 km/h' -o next.toml");
  EXPECT_EQ(a.code, 0) << a.out;
  EXPECT_NE(a.out.find("The helper reads out"), std::string::npos) << a.out;
  std::ifstream file(folder_ + "/next.toml");
  const std::string plan{std::istreambuf_iterator<char>(file), {}};
  EXPECT_EQ(plan.rfind("format = \"fuelwright plan 1\"", 0), 0U) << plan;
  EXPECT_EQ(run("plan coupe.fw --minutes 1 --dyno -o dyno.toml").code, 0);
  std::ifstream on_dyno(folder_ + "/dyno.toml");
  const std::string held{std::istreambuf_iterator<char>(on_dyno), {}};
  EXPECT_NE(held.find("pressure = "), std::string::npos) << held;  // of a hold
  const auto j = nlohmann::json::parse(run("plan coupe.fw --minutes 1 --json", "", false).out);
  EXPECT_EQ(j["verdict"], "drive");
  EXPECT_LE(j["minutes"].get<double>(), 1);
}

TEST_F(Cli, APlanThatCannotBeIsOneLine) {
  ASSERT_EQ(run("new -o coupe.fw", kFive).code, 0);
  for (const char* wrong : {"--minutes 999", "--top-speed '80 bananas'", "--use 3", "--cycle missing.csv"}) {
    const Answer a = run(std::string("plan coupe.fw ") + wrong);
    EXPECT_NE(a.code, 0) << wrong;
    EXPECT_EQ(std::count(a.out.begin(), a.out.end(), '\n'), 1) << a.out;
  }
}

TEST_F(Cli, TheFirstStartListAsksOnAPipeInOneLineAndComesWhenAllIsAnswered) {
  ASSERT_EQ(run("new -o coupe.fw", kFive).code, 0);
  const Answer asked = run("check coupe.fw --first-start --new-cam yes");
  EXPECT_EQ(asked.code, 4) << asked.out;
  EXPECT_EQ(std::count(asked.out.begin(), asked.out.end(), '\n'), 1) << asked.out;
  EXPECT_NE(asked.out.find("tappets (flat|roller|not-known)"), std::string::npos) << asked.out;
  const std::string all =
      "check coupe.fw --first-start --new-cam yes --tappets flat --fresh-engine yes "
      "--fuel-opened no --timing checked --altitude '1500 m' --units metric";
  const Answer list = run(all);
  EXPECT_EQ(list.code, 0) << list.out;
  EXPECT_NE(list.out.find("84.6 kPa"), std::string::npos) << list.out;  // ISA 1976, 1500 m
  EXPECT_NE(list.out.find("Run-in of the cam"), std::string::npos);
  EXPECT_NE(list.out.find("run predict"), std::string::npos);
  const auto j = nlohmann::json::parse(run(all + " --json", "", false).out);
  EXPECT_EQ(j["run_in"], true);
  EXPECT_EQ(j["computed"], false);
  EXPECT_NE(run("check coupe.fw --new-cam yes").code, 0);  // an answer without its question
  const Answer wrong = run("check coupe.fw --first-start --new-cam perhaps");
  EXPECT_NE(wrong.code, 0);
  EXPECT_NE(wrong.out.find("perhaps"), std::string::npos) << wrong.out;
}

}  // namespace
