Attribute VB_Name = "EstimatorMacros"
Option Explicit

' What the buttons run. Everything is worked out in Python; here it is only called, and a call
' that fails is shown. RunPython and ImportPythonUDFs are in the module xlwings.

Private Const TITLE As String = "Job estimate"
Private Const WHERE_HELP_IS As String = "See the troubleshooting table in docs/excel.md."

Public Sub Estimate()
    On Error GoTo Failed
    RunPython "from estimator.excel import live; live.estimate_active()"
    Exit Sub
Failed:
    TellFailure "The estimate could not start.", Err.Description
End Sub

Public Sub CheckInputs()
    On Error GoTo Failed
    RunPython "from estimator.excel import live; live.check_active()"
    Exit Sub
Failed:
    TellFailure "The check could not start.", Err.Description
End Sub

Public Sub AfterAward()
    On Error GoTo Failed
    ThisWorkbook.Names("award_do").RefersToRange.Worksheet.Activate
    Exit Sub
Failed:
    TellFailure "The sheet After award is not there.", Err.Description
End Sub

Public Sub DoAfterAward()
    On Error GoTo Failed
    RunPython "from estimator.excel import live; live.after_award_active()"
    Exit Sub
Failed:
    TellFailure "The work could not be started.", Err.Description
End Sub

Public Sub ImportFunctions()
    On Error GoTo Failed
    #If Mac Then
        MsgBox "Cell functions work in Excel on Windows only.", vbInformation, TITLE
    #Else
        ImportPythonUDFs
    #End If
    Exit Sub
Failed:
    TellFailure "The cell functions could not be imported.", Err.Description
End Sub

Private Sub TellFailure(ByVal What As String, ByVal Why As String)
    Application.StatusBar = False
    MsgBox What & vbNewLine & vbNewLine & Why & vbNewLine & vbNewLine & WHERE_HELP_IS, _
        vbExclamation, TITLE
End Sub
