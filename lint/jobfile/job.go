package jobfile

// Job is one job as written: the fit-out of one room. A nil pointer or an empty string is a fact that the job does not give. Lengths are in mm unless the name says otherwise.
type Job struct {
	Pos       *Node      `json:"-"`
	Wetrule   *float64   `json:"wetrule"`
	Reference string     `json:"reference"`
	Title     string     `json:"title"`
	Country   string     `json:"country"`
	Region    string     `json:"region"`
	Stage     string     `json:"stage"`
	JudgedOn  string     `json:"judged_on"`
	Rulebooks []string   `json:"rulebooks"`
	Climate   *Climate   `json:"climate"`
	Room      *Room      `json:"room"`
	Panel     *Panel     `json:"panel"`
	BuildUp   []Layer    `json:"build_up"`
	Joints    *Joints    `json:"joints"`
	Circuits  []Circuit  `json:"circuits"`
	Items     []Item     `json:"items"`
	Tasks     []Task     `json:"tasks"`
	Programme *Programme `json:"programme"`
	Records   []Record   `json:"records"`
	Tools     *Tools     `json:"tools"`
	Safety    *Safety    `json:"safety"`
	Materials []string   `json:"materials"`
	Note      string     `json:"note"`
	Leaves    []Leave    `json:"leaves"`
}

// Room is the room that is fitted out.
type Room struct {
	Pos           *Node       `json:"-"`
	Use           string      `json:"use"`
	Duty          string      `json:"duty"`
	People        *float64    `json:"people"`
	HeatUpMinutes *float64    `json:"heat_up_minutes"`
	HosedDown     *bool       `json:"hosed_down"`
	HeightMM      *float64    `json:"height_mm"`
	Walls         []Wall      `json:"walls"`
	Floor         *Floor      `json:"floor"`
	Ceiling       *Ceiling    `json:"ceiling"`
	Benches       []Bench     `json:"benches"`
	Openings      []Opening   `json:"openings"`
	Partitions    []Partition `json:"partitions"`
}

// Wall is one wall, seen from inside; the next wall is at its right-hand end.
type Wall struct {
	Pos                           *Node       `json:"-"`
	ID                            string      `json:"id"`
	WidthMM                       *float64    `json:"width_mm"`
	HeightMM                      *float64    `json:"height_mm"`
	TurnDeg                       *float64    `json:"turn_deg"`
	Behind                        string      `json:"behind"`
	FixedTo                       string      `json:"fixed_to"`
	BehindTemperatureC            *float64    `json:"behind_temperature_c"`
	BehindRelativeHumidityPercent *float64    `json:"behind_relative_humidity_percent"`
	Host                          []HostLayer `json:"host"`
	PanelJointsXMM                []float64   `json:"panel_joints_x_mm"`
	Panel                         *Panel      `json:"panel"`
	BuildUp                       []Layer     `json:"build_up"`
	Joints                        *Joints     `json:"joints"`
}

// HostLayer is one layer behind a panel, from the panel outwards.
type HostLayer struct {
	Pos             *Node    `json:"-"`
	Material        string   `json:"material"`
	ThicknessMM     *float64 `json:"thickness_mm"`
	ConductivityWMK *float64 `json:"conductivity_w_mk"`
	Mu              *float64 `json:"mu"`
}

// Floor is the finished floor.
type Floor struct {
	Pos             *Node    `json:"-"`
	FallPercent     *float64 `json:"fall_percent"`
	Heated          *bool    `json:"heated"`
	ThresholdStepMM *float64 `json:"threshold_step_mm"`
	Panel           *Panel   `json:"panel"`
	BuildUp         []Layer  `json:"build_up"`
	Joints          *Joints  `json:"joints"`
}

// Ceiling is the finished ceiling.
type Ceiling struct {
	Pos          *Node    `json:"-"`
	SlopePercent *float64 `json:"slope_percent"`
	Shape        string   `json:"shape"`
	LowWall      string   `json:"low_wall"`
	Panel        *Panel   `json:"panel"`
	BuildUp      []Layer  `json:"build_up"`
	Joints       *Joints  `json:"joints"`
}

// Bench is a bench against a wall; its faces are id.seat and id.riser.
type Bench struct {
	Pos         *Node    `json:"-"`
	ID          string   `json:"id"`
	Wall        string   `json:"wall"`
	XMM         *float64 `json:"x_mm"`
	LengthMM    *float64 `json:"length_mm"`
	DepthMM     *float64 `json:"depth_mm"`
	HeightMM    *float64 `json:"height_mm"`
	FallPercent *float64 `json:"fall_percent"`
	Heated      *bool    `json:"heated"`
	Panel       *Panel   `json:"panel"`
	BuildUp     []Layer  `json:"build_up"`
	Joints      *Joints  `json:"joints"`
}

// Opening is a window, hatch or doorway without an item of its own.
type Opening struct {
	Pos      *Node    `json:"-"`
	ID       string   `json:"id"`
	Face     string   `json:"face"`
	XMM      *float64 `json:"x_mm"`
	YMM      *float64 `json:"y_mm"`
	WidthMM  *float64 `json:"width_mm"`
	HeightMM *float64 `json:"height_mm"`
}

// Partition is a fixed partition square to a wall.
type Partition struct {
	Pos         *Node    `json:"-"`
	ID          string   `json:"id"`
	Wall        string   `json:"wall"`
	XMM         *float64 `json:"x_mm"`
	LengthMM    *float64 `json:"length_mm"`
	ThicknessMM *float64 `json:"thickness_mm"`
	HeightMM    *float64 `json:"height_mm"`
}

// Climate is the rated climate of the room.
type Climate struct {
	Pos                                   *Node     `json:"-"`
	AirTemperatureC                       *float64  `json:"air_temperature_c"`
	CeilingAirTemperatureC                *float64  `json:"ceiling_air_temperature_c"`
	RelativeHumidityPercent               *float64  `json:"relative_humidity_percent"`
	RestingAirTemperatureC                *float64  `json:"resting_air_temperature_c"`
	OutsideMonthlyTemperatureC            []float64 `json:"outside_monthly_temperature_c"`
	OutsideMonthlyRelativeHumidityPercent []float64 `json:"outside_monthly_relative_humidity_percent"`
}

// Panel is a foam board.
type Panel struct {
	Pos                    *Node    `json:"-"`
	Material               string   `json:"material"`
	ThicknessMM            *float64 `json:"thickness_mm"`
	CompressiveKPa         *float64 `json:"compressive_kpa"`
	ShearNMM2              *float64 `json:"shear_n_mm2"`
	ShearAssumed           *bool    `json:"shear_assumed"`
	CreepKPa               *float64 `json:"creep_kpa"`
	ServiceTemperatureMaxC *float64 `json:"service_temperature_max_c"`
	ConductivityWMK        *float64 `json:"conductivity_w_mk"`
	Mu                     *float64 `json:"mu"`
}

// Joints says how a finish is jointed and sealed.
type Joints struct {
	Pos                    *Node    `json:"-"`
	JointWidthMM           *float64 `json:"joint_width_mm"`
	Grout                  string   `json:"grout"`
	GroutClass             string   `json:"grout_class"`
	Perimeter              string   `json:"perimeter"`
	SealantClass           string   `json:"sealant_class"`
	MovementJointSpacingMM *float64 `json:"movement_joint_spacing_mm"`
}

// Circuit is one electrical circuit.
type Circuit struct {
	Pos            *Node    `json:"-"`
	ID             string   `json:"id"`
	VoltageV       *float64 `json:"voltage_v"`
	Current        string   `json:"current"`
	Phases         *float64 `json:"phases"`
	PowerFactor    *float64 `json:"power_factor"`
	Protection     string   `json:"protection"`
	RcdMA          *float64 `json:"rcd_ma"`
	BreakerA       *float64 `json:"breaker_a"`
	Device         string   `json:"device"`
	ConductorMM2   *float64 `json:"conductor_mm2"`
	ConductorClass *float64 `json:"conductor_class"`
	Insulation     string   `json:"insulation"`
	Method         string   `json:"method"`
	AmbientC       *float64 `json:"ambient_c"`
	InInsulationMM *float64 `json:"in_insulation_mm"`
	LengthM        *float64 `json:"length_m"`
	BondingOhm     *float64 `json:"bonding_ohm"`
	Source         string   `json:"source"`
}

// Tube is the tube from generator to outlet.
type Tube struct {
	Pos             *Node           `json:"-"`
	Material        string          `json:"material"`
	ODMM            *float64        `json:"od_mm"`
	WallMM          *float64        `json:"wall_mm"`
	RunM            *float64        `json:"run_m"`
	FallPercent     *float64        `json:"fall_percent"`
	LowPoints       *float64        `json:"low_points"`
	ValvesOrTraps   *float64        `json:"valves_or_traps"`
	Bends           *float64        `json:"bends"`
	BendsMade       string          `json:"bends_made"`
	BendRadiusMM    *float64        `json:"bend_radius_mm"`
	SupportSpacingM *float64        `json:"support_spacing_m"`
	ExpansionRoomMM *float64        `json:"expansion_room_mm"`
	Touchable       *bool           `json:"touchable"`
	Insulation      *TubeInsulation `json:"insulation"`
}

// GlassHole is one hole through a leaf of glass; x runs from the left edge of the leaf, seen from inside, y from its lower edge.
type GlassHole struct {
	Pos        *Node    `json:"-"`
	XMM        *float64 `json:"x_mm"`
	YMM        *float64 `json:"y_mm"`
	DiameterMM *float64 `json:"diameter_mm"`
}

// Insert is one bonded insert.
type Insert struct {
	Pos        *Node    `json:"-"`
	XMM        *float64 `json:"x_mm"`
	YMM        *float64 `json:"y_mm"`
	DiameterMM *float64 `json:"diameter_mm"`
	DepthMM    *float64 `json:"depth_mm"`
}

// Span is a time span as RFC 3339 text.
type Span struct {
	Pos    *Node  `json:"-"`
	Start  string `json:"start"`
	Finish string `json:"finish"`
}

// Task is one piece of work.
type Task struct {
	Pos                 *Node    `json:"-"`
	Task                string   `json:"task"`
	Items               []string `json:"items"`
	Faces               []string `json:"faces"`
	Planned             *Span    `json:"planned"`
	Actual              *Span    `json:"actual"`
	SiteTemperatureC    *float64 `json:"site_temperature_c"`
	SiteTemperatureMinC *float64 `json:"site_temperature_min_c"`
	SiteHumidityPercent *float64 `json:"site_humidity_percent"`
	Material            string   `json:"material"`
	CureH               *float64 `json:"cure_h"`
	CureAtC             *float64 `json:"cure_at_c"`
	By                  string   `json:"by"`
	Note                string   `json:"note"`
}

// Tools lists the tools of the job.
type Tools struct {
	Pos              *Node     `json:"-"`
	HoleSawsMM       []float64 `json:"hole_saws_mm"`
	BitsMM           []float64 `json:"bits_mm"`
	GrooveCuttersMM  []float64 `json:"groove_cutters_mm"`
	SawReachMM       *float64  `json:"saw_reach_mm"`
	HandSaw          *bool     `json:"hand_saw"`
	InsulationTester *bool     `json:"insulation_tester"`
}

// Safety says what protects the people who do the work.
type Safety struct {
	Pos                *Node    `json:"-"`
	PPE                []string `json:"ppe"`
	DustControl        string   `json:"dust_control"`
	IsocyanateTraining *bool    `json:"isocyanate_training"`
	IsolationPlan      *bool    `json:"isolation_plan"`
}

// TubeInsulation is the insulation round a steam tube.
type TubeInsulation struct {
	Pos                   *Node    `json:"-"`
	Material              string   `json:"material"`
	ThicknessMM           *float64 `json:"thickness_mm"`
	RatedTemperatureC     *float64 `json:"rated_temperature_c"`
	ConductivityWMK       *float64 `json:"conductivity_w_mk"`
	FittedBeforeInsertion *bool    `json:"fitted_before_insertion"`
}

// GrooveCover is what fills and covers a groove.
type GrooveCover struct {
	Pos         *Node    `json:"-"`
	Material    string   `json:"material"`
	Full        *bool    `json:"full"`
	ThicknessMM *float64 `json:"thickness_mm"`
}

// Layer is one layer of a build-up. Which fields it may carry depends on Layer; the schema keeps that.
type Layer struct {
	Pos                    *Node    `json:"-"`
	Layer                  string   `json:"layer"`
	MassGM2                *float64 `json:"mass_g_m2"`
	Product                string   `json:"product"`
	Flexible               *bool    `json:"flexible"`
	ThicknessMM            *float64 `json:"thickness_mm"`
	MassKGM2               *float64 `json:"mass_kg_m2"`
	Family                 string   `json:"family"`
	MakerThicknessMinMM    *float64 `json:"maker_thickness_min_mm"`
	Coats                  *float64 `json:"coats"`
	TwoColours             *bool    `json:"two_colours"`
	PermeancePerm          *float64 `json:"permeance_perm"`
	ServiceTemperatureMaxC *float64 `json:"service_temperature_max_c"`
	SteamRoomDeclared      *bool    `json:"steam_room_declared"`
	Class                  string   `json:"class"`
	CoveragePercent        *float64 `json:"coverage_percent"`
	LengthMM               *float64 `json:"length_mm"`
	WidthMM                *float64 `json:"width_mm"`
	BarefootClass          string   `json:"barefoot_class"`
	Polished               *bool    `json:"polished"`
}

// Item is one thing in or on a panel. Which fields it may carry depends on Kind; the schema keeps that.
type Item struct {
	Pos                      *Node          `json:"-"`
	ID                       string         `json:"id"`
	Kind                     string         `json:"kind"`
	Product                  string         `json:"product"`
	InstructionsOnSite       *bool          `json:"instructions_on_site"`
	Note                     string         `json:"note"`
	Face                     string         `json:"face"`
	Side                     string         `json:"side"`
	XMM                      *float64       `json:"x_mm"`
	YMM                      *float64       `json:"y_mm"`
	OpeningDiameterMM        *float64       `json:"opening_diameter_mm"`
	Guarded                  *bool          `json:"guarded"`
	Collar                   *bool          `json:"collar"`
	CollarFlangeMM           *float64       `json:"collar_flange_mm"`
	Generator                string         `json:"generator"`
	Tube                     *Tube          `json:"tube"`
	Place                    string         `json:"place"`
	PowerKW                  *float64       `json:"power_kw"`
	FeedTemperatureC         *float64       `json:"feed_temperature_c"`
	WaterHardnessMmolL       *float64       `json:"water_hardness_mmol_l"`
	Softener                 *bool          `json:"softener"`
	SoftenerResinL           *float64       `json:"softener_resin_l"`
	RegenerationDays         *float64       `json:"regeneration_days"`
	SteamHPerWeek            *float64       `json:"steam_h_per_week"`
	WaterHeating             string         `json:"water_heating"`
	ConductivityUSCM         *float64       `json:"conductivity_us_cm"`
	BoilerMaxUSCM            *float64       `json:"boiler_conductivity_max_us_cm"`
	ServiceAccess            *bool          `json:"service_access"`
	Circuit                  string         `json:"circuit"`
	PowerW                   *float64       `json:"power_w"`
	OutputW                  *float64       `json:"output_w"`
	CableRunM                *float64       `json:"cable_run_m"`
	IPMark                   string         `json:"ip_mark"`
	RatedAmbientC            *float64       `json:"rated_ambient_c"`
	Runs                     [][][2]float64 `json:"runs"`
	CableODMM                *float64       `json:"cable_od_mm"`
	WattsPerM                *float64       `json:"watts_per_m"`
	SuppliedLengthM          *float64       `json:"supplied_length_m"`
	InstalledLengthM         *float64       `json:"installed_length_m"`
	SurplusLengthM           *float64       `json:"surplus_length_m"`
	SurplusPlace             string         `json:"surplus_place"`
	ResistanceOhm            *float64       `json:"resistance_ohm"`
	BendRadiusMinMM          *float64       `json:"bend_radius_min_mm"`
	GrooveWidthMM            *float64       `json:"groove_width_mm"`
	GrooveDepthMM            *float64       `json:"groove_depth_mm"`
	Cover                    *GrooveCover   `json:"cover"`
	ExitDiameterMM           *float64       `json:"exit_diameter_mm"`
	SheathEarthed            *bool          `json:"sheath_earthed"`
	Cable                    string         `json:"cable"`
	InSleeve                 *bool          `json:"in_sleeve"`
	EndsSealed               *bool          `json:"ends_sealed"`
	LimitC                   *float64       `json:"limit_c"`
	Flow                     string         `json:"flow"`
	DiameterMM               *float64       `json:"diameter_mm"`
	SpigotODMM               *float64       `json:"spigot_od_mm"`
	MakerSensorDistanceMinMM *float64       `json:"maker_sensor_distance_min_mm"`
	AirFlowM3H               *float64       `json:"air_flow_m3_h"`
	FreeAreaMM2              *float64       `json:"free_area_mm2"`
	Fan                      *bool          `json:"fan"`
	Points                   [][2]float64   `json:"points"`
	FibreDiameterMM          *float64       `json:"fibre_diameter_mm"`
	BendRadiusMM             *float64       `json:"bend_radius_mm"`
	Illuminator              string         `json:"illuminator"`
	Path                     [][2]float64   `json:"path"`
	Mounting                 string         `json:"mounting"`
	Cut                      *bool          `json:"cut"`
	CutMarks                 *bool          `json:"cut_marks"`
	CutEndSealed             *bool          `json:"cut_end_sealed"`
	CableIPMark              string         `json:"cable_ip_mark"`
	DepthMM                  *float64       `json:"depth_mm"`
	Role                     string         `json:"role"`
	Dry                      *bool          `json:"dry"`
	Ventilated               *bool          `json:"ventilated"`
	Accessible               *bool          `json:"accessible"`
	SafetyIsolating          *bool          `json:"safety_isolating"`
	Equipment                string         `json:"equipment"`
	Inserts                  []Insert       `json:"inserts"`
	Adhesive                 string         `json:"adhesive"`
	ProfileLengthMM          *float64       `json:"profile_length_mm"`
	BracketLengthMM          *float64       `json:"bracket_length_mm"`
	BracketWidthMM           *float64       `json:"bracket_width_mm"`
	LoadKG                   *float64       `json:"load_kg"`
	ReachMM                  *float64       `json:"reach_mm"`
	ReachFoldedMM            *float64       `json:"reach_folded_mm"`
	ScreenMount              string         `json:"screen_mount"`
	ScrewHoleSealed          *bool          `json:"screw_hole_sealed"`
	WidthMM                  *float64       `json:"width_mm"`
	HeightMM                 *float64       `json:"height_mm"`
	Glass                    string         `json:"glass"`
	GlassThicknessMM         *float64       `json:"glass_thickness_mm"`
	GlassMarked              *bool          `json:"glass_marked"`
	LeafWidthMM              *float64       `json:"leaf_width_mm"`
	LeafHeightMM             *float64       `json:"leaf_height_mm"`
	LeafMassKG               *float64       `json:"leaf_mass_kg"`
	GlassHoles               []GlassHole    `json:"glass_holes"`
	Hinges                   *float64       `json:"hinges"`
	HingeYMM                 []float64      `json:"hinge_y_mm"`
	HingeRatingKG            *float64       `json:"hinge_rating_kg"`
	HingeSide                string         `json:"hinge_side"`
	Swing                    string         `json:"swing"`
	Latch                    string         `json:"latch"`
	GapSideMM                *float64       `json:"gap_side_mm"`
	GapFloorMM               *float64       `json:"gap_floor_mm"`
	FlangeMM                 *float64       `json:"flange_mm"`
	OdourTrap                *bool          `json:"odour_trap"`
	Outlet                   string         `json:"outlet"`
	Basin                    *bool          `json:"basin"`
	BasinXMM                 *float64       `json:"basin_x_mm"`
	BasinOffMM               *float64       `json:"basin_off_mm"`
	BasinWidthMM             *float64       `json:"basin_width_mm"`
	BasinLengthMM            *float64       `json:"basin_length_mm"`
	BasinRimMM               *float64       `json:"basin_rim_mm"`
}

// Record is one reading, test, photograph or signature. Which fields it may carry depends on Record; the schema keeps that.
type Record struct {
	Pos            *Node     `json:"-"`
	Record         string    `json:"record"`
	Item           string    `json:"item"`
	When           string    `json:"when"`
	ResistanceOhm  *float64  `json:"resistance_ohm"`
	InsulationMOhm *float64  `json:"insulation_mohm"`
	TestVoltageV   *float64  `json:"test_voltage_v"`
	At             string    `json:"at"`
	By             string    `json:"by"`
	Note           string    `json:"note"`
	Start          string    `json:"start"`
	Finish         string    `json:"finish"`
	DepthMM        *float64  `json:"depth_mm"`
	LevelLossMM    *float64  `json:"level_loss_mm"`
	EvaporationMM  *float64  `json:"evaporation_mm"`
	Face           string    `json:"face"`
	ReadingsMM     []float64 `json:"readings_mm"`
	MassKG         *float64  `json:"mass_kg"`
	HeldMin        *float64  `json:"held_min"`
	For            string    `json:"for"`
	Name           string    `json:"name"`
	SHA256         string    `json:"sha256"`
	Of             string    `json:"of"`
	TemperatureC   *float64  `json:"temperature_c"`
}

// Leave is a written leave for something that a rule does not allow: a concession or a deviation permit.
type Leave struct {
	Pos    *Node    `json:"-"`
	Rule   string   `json:"rule"`
	Item   string   `json:"item"`
	Leave  string   `json:"leave"`
	Reason string   `json:"reason"`
	By     []string `json:"by"`
	Issued string   `json:"issued"`
	Until  string   `json:"until"`
	DownTo *float64 `json:"down_to"`
	UpTo   *float64 `json:"up_to"`
	Value  *Node    `json:"value"`
	Job    string   `json:"job"`
}

// Programme says what the programme of the work is reckoned with.
type Programme struct {
	Pos                 *Node              `json:"-"`
	Start               string             `json:"start"`
	TimeZone            string             `json:"time_zone"`
	Shifts              []Shift            `json:"shifts"`
	Holidays            *Holidays          `json:"holidays"`
	SiteTemperature     *SiteForecast      `json:"site_temperature_c"`
	SiteHumidityPercent *float64           `json:"site_humidity_percent"`
	Crew                map[string]float64 `json:"crew"`
}

// Shift is a stretch of working time on some days of the week: mo, tu, we, th, fr, sa, su; from and to are times of day, hh:mm.
type Shift struct {
	Pos  *Node    `json:"-"`
	Days []string `json:"days"`
	From string   `json:"from"`
	To   string   `json:"to"`
}

// Holidays are the public holidays of a country or a part of it, or a list of days off alone; then Listed is true.
type Holidays struct {
	Pos     *Node    `json:"-"`
	Country string   `json:"country"`
	Region  string   `json:"region"`
	DaysOff []string `json:"days_off"`
	Worked  []string `json:"worked"`
	Listed  bool     `json:"-"`
}

// DecodeNode reads either way of writing holidays.
func (h *Holidays) DecodeNode(n *Node) error {
	if n.Kind == List {
		h.Pos, h.Listed = n, true
		return Decode(n, &h.DaysOff)
	}
	type plain Holidays // without this method
	return Decode(n, (*plain)(h))
}

// SiteForecast is the temperature that is expected on site: one for all time, or a list of when which begins.
type SiteForecast struct {
	Pos   *Node
	Steps []SiteForecastDay // in order of time; From of the first is empty when there is one for all time
}

// SiteForecastDay is what is expected from a day on.
type SiteForecastDay struct {
	Pos             *Node    `json:"-"`
	From            string   `json:"from"`
	TemperatureC    float64  `json:"temperature_c"`
	HumidityPercent *float64 `json:"humidity_percent"`
}

// DecodeNode reads either way of writing a forecast.
func (f *SiteForecast) DecodeNode(n *Node) error {
	f.Pos = n
	if n.Kind == List {
		return Decode(n, &f.Steps)
	}
	f.Steps = []SiteForecastDay{{Pos: n}}
	return Decode(n, &f.Steps[0].TemperatureC)
}
